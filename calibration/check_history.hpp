// The history of checks as text: CSV, one line for each check, appended and never changed.
//
// A line that was not finished, since the power went, is passed over with a warning: one lost check
// must not hide the others.
#pragma once

#include <string>
#include <string_view>
#include <vector>

#include "calibration/control_chart.hpp"
#include "protocol/result.hpp"

namespace calibration {

// The first line of the file, with its end.
std::string check_history_header();
// One check, with its end.
std::string check_history_line(const ControlPoint& point);

struct CheckHistory {
  std::vector<ControlPoint> points;   // in the order of the file
  std::vector<std::string> warnings;  // lines passed over
};

// `name` stands for the file in messages. ERRORS: input_malformed where the first line is not the
// header of such a history.
protocol::Result<CheckHistory> parse_check_history(std::string_view text, const std::string& name);

}  // namespace calibration
