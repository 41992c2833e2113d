// Foreign CSV files with travel and force, with or without time, read strictly.
//
// Rows are the path and are never sorted. Columns may stand in any order; others are passed over.
// A column is found by its header (travel_mm, force_lbf, time_s: the quantity, an underscore, a
// known unit) or named by the caller. Separator and decimal mark are told, never guessed: a file
// that looks otherwise is refused with the options to give.
#pragma once

#include <filesystem>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "protocol/record/fork.hpp"

namespace protocol {

// A column of the file and the unit of its numbers.
struct CsvColumn {
  std::string name;
  std::string unit;
};

struct CsvImportOptions {
  std::optional<CsvColumn> travel;
  std::optional<CsvColumn> force;
  std::optional<CsvColumn> time;
  bool without_time = false;   // pass a time column over
  bool without_force = false;  // a log of a ride: time and travel alone
  char separator = ',';
  char decimal = '.';
  bool single_stroke = false;
};

struct ImportedRows {
  std::vector<double> time_s;  // empty: the file has no clock
  std::vector<double> travel_m;
  std::vector<double> force_N;
  std::vector<std::string> remarks;  // what looks odd but can be used
};

// Reads `text`; `name` stands for the file in messages. ERRORS: input_malformed (with line and
// column), unit_unknown, input_out_of_range, record_unusable (too few samples, no reversal, time
// going back).
Result<ImportedRows> import_csv(std::string_view text, const std::string& name,
                                const CsvImportOptions& options, const Fork& fork);

}  // namespace protocol
