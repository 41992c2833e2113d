// The metadata file beside a record: a W3C CSVW table description with one object of our own,
// "springwright", that holds everything of protocol::Metadata. Its grammar is
// sweep-record.schema.json, its prose RECORD.md.
#pragma once

#include <filesystem>
#include <string>

#include "protocol/record/json_fields.hpp"
#include "protocol/record/sweep_record.hpp"

namespace protocol {

// Raised when a file of the new form cannot be read by an older program.
inline constexpr int kRecordFormatVersion = 1;

// Which of the columns that a source may lack a record has.
struct RecordColumns {
  bool time = true;
  bool stroke = true;
  bool raw_steps = true;
  bool raw_counts = true;
};

// "time_s", "stroke", "travel_mm" ... in the order of the CSV file.
std::vector<std::string> column_names(const RecordColumns& columns);

// What closing a record adds, so that a later change of the rows shows.
struct RowsSeal {
  uint64_t rows = 0;
  std::string sha256;  // of the CSV file's bytes
};

// "sweeps/larch.csv" -> "sweeps/larch.csv-metadata.json".
std::filesystem::path metadata_path(const std::filesystem::path& csv_path);

// The whole metadata file. `csv_name` is the CSV file's name without its folder.
Json metadata_document(const Metadata& metadata, const RecordColumns& columns,
                       const std::string& csv_name, const std::optional<RowsSeal>& seal);

struct ReadMetadata {
  Metadata metadata;
  RecordColumns columns;
  std::optional<RowsSeal> seal;
};
// ERRORS: input_malformed, input_unknown_key, input_out_of_range; `name` stands for the file.
Result<ReadMetadata> metadata_from_document(const Json& document, const std::string& name);

}  // namespace protocol
