// Which columns of a foreign CSV file are travel, force and time, and in which units. Part of
// csv_import.hpp.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "protocol/record/csv_import.hpp"
#include "protocol/record/csv_reader.hpp"

namespace protocol {

struct ImportColumn {
  size_t index = 0;
  std::string name;
  Unit unit;
};

struct ImportColumns {
  ImportColumn travel;
  std::optional<ImportColumn> force;
  std::optional<ImportColumn> time;
};

// `text` is the whole file, looked at for hints. ERRORS: input_malformed (missing, ambiguous),
// unit_unknown and unit_wrong_dimension for a header's unit, usage for a unit that the caller gave.
Result<ImportColumns> find_columns(const CsvReader& csv, const std::vector<CsvField>& header,
                                   std::string_view text, const CsvImportOptions& options);

// The unit of `--column QUANTITY=NAME:UNIT`. ERRORS: usage.
Result<Unit> column_unit(const CsvColumn& column, Dimension dimension);

}  // namespace protocol
