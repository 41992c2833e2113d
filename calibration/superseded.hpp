// Whether a newer certificate has taken a certificate's place. Old ones are kept, so one can stay
// in use by mistake.
#pragma once

#include <filesystem>
#include <string>
#include <vector>

namespace calibration {

// The certificates in the same folder that say they supersede this id, by their file names in
// order. What is no certificate, or damaged, is passed over.
std::vector<std::string> find_successors(const std::filesystem::path& certificate,
                                         const std::string& id);

}  // namespace calibration
