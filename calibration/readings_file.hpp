// Readings from a file, so that a calibration can be done without questions. See README.md of this
// folder for both formats.
#pragma once

#include <string>

#include "calibration/readings.hpp"

namespace calibration {

// Reads TOML or CSV, by the ending of the path. ERRORS: input_missing, input_malformed,
// input_unknown_key, input_out_of_range, unit errors; each names file and line.
protocol::Result<ReadingSet> load_readings(const std::string& path, Kind kind);

// Creep as CSV: a header line "time_s,counts", then one reading a line. ERRORS: the same.
protocol::Result<std::vector<CreepReading>> load_creep_csv(const std::string& path);
protocol::Result<std::vector<CreepReading>> parse_creep_csv(const std::string& text,
                                                            const std::string& name);

// Readings from text; `name` stands in messages.
protocol::Result<ReadingSet> parse_readings_csv(const std::string& text, const std::string& name,
                                                Kind kind);
protocol::Result<ReadingSet> parse_readings_toml(const std::string& text, const std::string& name,
                                                 Kind kind);

}  // namespace calibration
