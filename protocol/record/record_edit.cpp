#include "protocol/record/record_edit.hpp"

#include <fmt/format.h>

#include <algorithm>

#include "protocol/record/metadata_json.hpp"

namespace protocol {
namespace {

constexpr size_t kEditedBytesMax = size_t{4} << 20;

bool blank(const std::string& text) {
  return text.find_first_not_of(" \t\r\n") == std::string::npos;
}

// Changes our object alone, so that whatever stands around it stays.
void apply(const RecordEdit& edit, Json& ours) {
  for (const std::string& remark : edit.remarks) ours["remarks"].push_back(remark);
  if (edit.usable) ours.erase("unusable_reason");
  if (edit.unusable_reason) ours["unusable_reason"] = *edit.unusable_reason;
}

}  // namespace

Result<Metadata> edit_record(FileSystem& files, const std::filesystem::path& csv_path,
                             const RecordEdit& edit) {
  const bool empty = std::any_of(edit.remarks.begin(), edit.remarks.end(), blank) ||
                     (edit.unusable_reason && blank(*edit.unusable_reason));
  if (empty) return Error{Errc::usage, "a remark or a reason cannot be empty."};
  if (!files.exists(csv_path)) {
    return Error{Errc::input_missing, fmt::format("there is no record '{}'.", csv_path.string())};
  }
  if (files.is_being_written(csv_path)) {
    return Error{Errc::record_unusable,
                 fmt::format("'{}' is being written just now; mark it when the sweep has ended.",
                             csv_path.string())};
  }
  const std::filesystem::path path = metadata_path(csv_path);
  const Result<std::string> text = read_text_file(path, kEditedBytesMax);
  if (!text) return text.error();
  Result<Json> document = parse_json(*text, path.string());
  if (!document) return document.error();
  // Only what reads well is written again.
  const Result<ReadMetadata> before = metadata_from_document(*document, path.string());
  if (!before) return before.error();
  apply(edit, document.value()["springwright"]);
  const Result<ReadMetadata> after = metadata_from_document(*document, path.string());
  if (!after) return after.error();
  const Result<void> written = replace_file(files, path, json_text(*document));
  if (!written) return written.error();
  return after->metadata;
}

}  // namespace protocol
