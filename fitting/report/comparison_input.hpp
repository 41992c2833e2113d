// From models and their records to what a report needs: which records stand for a comparison as
// tested, the answers of the models, the simulated loops. Pure: whoever calls it reads the files.
#pragma once

#include <string>
#include <vector>

#include "fitting/compare/comparison.hpp"
#include "fitting/report/comparison_report.hpp"

namespace fitting {

struct NamedRecord {
  std::string name;  // what the user called it
  protocol::SweepRecord record;
};

struct ReportRequest {
  std::string title;   // empty: the forks' names
  std::string name_a;  // what the user called the models
  std::string name_b;
  FittedModel model_a;
  FittedModel model_b;
  std::vector<NamedRecord> records_a;
  std::vector<NamedRecord> records_b;
  CompareOptions compare;
  ReaderUnits units = reader_units();
  std::optional<RideTrace> ride_a;
  std::optional<RideTrace> ride_b;
  RideQuestion ride_question;
  std::string program;
  std::string made;
};

// The two records whose settings are most alike stand first and for the comparison as tested, and
// their settings are those at which the models are asked. ERRORS: input_out_of_range where a fork
// has no record or a record is of another fork than its model; otherwise as compare and
// simulated_force_N.
protocol::Result<ComparisonInput> make_comparison_input(const ReportRequest& request);

}  // namespace fitting
