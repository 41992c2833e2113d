// A sweep record read back from its two files.
//
// A last line that a crash tore is dropped and counted (metadata.torn_rows). A record that still
// says "running" reads as interrupted. Damage before the last line is refused with
// file:line:column. Rows that no longer match what closing the record noted earn a remark.
#pragma once

#include <filesystem>
#include <string>
#include <string_view>

#include "protocol/record/sweep_record.hpp"

namespace protocol {

enum class UnusableRecords { refuse, accept };

// `path` is the CSV file. ERRORS: input_missing, input_malformed, input_unknown_key,
// record_unusable where the operator marked the record so and `unusable` refuses it.
Result<SweepRecord> load_record(const std::filesystem::path& path,
                                UnusableRecords unusable = UnusableRecords::refuse);

// The same from the text of its two files; `path` stands for them in messages.
Result<SweepRecord> parse_record(std::string_view csv, const std::string& metadata,
                                 const std::filesystem::path& path,
                                 UnusableRecords unusable = UnusableRecords::refuse);

// The metadata alone, for lists.
Result<Metadata> load_record_metadata(const std::filesystem::path& path);

}  // namespace protocol
