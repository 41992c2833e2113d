// A calibration as a file: JSON, described by certificate.schema.json beside this header.
//
// The id is the SHA-256 of the canonical content: the JSON object without "id", keys sorted, no
// white space, every number as the shortest decimal that reads back to the same double. Layout and
// spelling of a file may change; what it says may not. A certificate is never overwritten: a new
// calibration is a new file.
#pragma once

#include <filesystem>
#include <string>
#include <vector>

#include "calibration/calibration.hpp"
#include "protocol/record/file_system.hpp"

namespace calibration {

// SHA-256 of the content, which is all but the id itself.
std::string content_id(const Calibration& calibration);

std::string certificate_text(const Calibration& calibration);

// ERRORS: output_exists, write_failed. The file is there in full or not at all.
protocol::Result<void> save_certificate(protocol::FileSystem& files, const Calibration& calibration,
                                        const std::filesystem::path& path);

struct LoadedCertificate {
  Calibration calibration;
  std::vector<std::string> warnings;  // expired
};

// today: ISO 8601, to tell whether it has expired. ERRORS: input_missing, input_malformed (not
// JSON, a field missing or of the wrong kind), input_unknown_key, calibration_unusable where the
// content does not match its id; the message names the fields that the readings contradict.
protocol::Result<LoadedCertificate> load_certificate(const std::filesystem::path& path,
                                                     const std::string& today);
protocol::Result<LoadedCertificate> parse_certificate(const std::string& text,
                                                      const std::string& name,
                                                      const std::string& today);

}  // namespace calibration
