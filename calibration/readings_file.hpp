// Readings from a file, so that a calibration can be done without questions. See README.md of this
// folder for both formats.
#pragma once

#include <string>

#include "calibration/readings.hpp"

namespace calibration {

// Reads PATH as TOML or CSV by its ending. What the file says of the particulars wins over
// `defaults`, key by key; loads in mass become newtons with the conditions of both. ERRORS:
// input_missing, input_malformed, input_unknown_key, unit errors, each with file and line.
protocol::Result<ReadingSet> load_readings(const std::string& path, Kind kind,
                                           const ReadingSet& defaults);

// The same from text; `name` stands in messages.
protocol::Result<ReadingSet> parse_readings_csv(const std::string& text, const std::string& name,
                                                Kind kind, const ReadingSet& defaults);
protocol::Result<ReadingSet> parse_readings_toml(const std::string& text, const std::string& name,
                                                 Kind kind, const ReadingSet& defaults);

}  // namespace calibration
