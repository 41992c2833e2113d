// What an operator may add to a record after the sweep: remarks and a verdict. The rows and all
// other metadata, also what others added to the file, stay as they are.
#pragma once

#include <filesystem>
#include <optional>
#include <string>
#include <vector>

#include "protocol/record/file_system.hpp"
#include "protocol/record/sweep_record.hpp"

namespace protocol {

struct RecordEdit {
  std::vector<std::string> remarks;
  std::optional<std::string> unusable_reason;
  bool usable = false;  // takes an earlier verdict back
};

// Replaces the metadata file in one step. RETURNS: the metadata as it is now. ERRORS:
// input_missing, input_malformed, record_unusable while the record is still marked running (the
// sweep would write over the edit), usage for an empty reason, write_failed.
Result<Metadata> edit_record(FileSystem& files, const std::filesystem::path& csv_path,
                             const RecordEdit& edit);

}  // namespace protocol
