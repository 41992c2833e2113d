// The names under which readings stand in a file, the same for a CSV column and a TOML key: what is
// measured, an underscore, the unit. Private to the reading of files.
#pragma once

#include <string_view>

#include "calibration/readings.hpp"

namespace calibration {

struct Column {
  enum class Role { reading, reference, mass, series, direction };
  Role role = Role::reading;
  double factor = 1.0;  // to counts, steps or SI
};

// ERRORS: input_unknown_key with the names that this kind takes, unit errors.
protocol::Result<Column> find_column(Kind kind, std::string_view name);

// "counts, load_kg or force_N, series, direction", for messages.
std::string_view column_list(Kind kind);

// Puts one number into its place. ERRORS: input_out_of_range (not finite, a series that is no whole
// number from 1).
protocol::Result<void> put_number(Reading& reading, const Column& column, double number);
protocol::Result<void> put_direction(Reading& reading, std::string_view word);

}  // namespace calibration
