// The report of two forks: what is given to it, and its sections one by one.
//
// Each section is a function of the whole input, so that a further one is a further function and a
// line in make_comparison_report. A section whose input is missing is left out.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "fitting/compare/crossovers.hpp"
#include "fitting/compare/difference.hpp"
#include "fitting/compare/nearest_setting.hpp"
#include "fitting/compare/sag.hpp"
#include "fitting/compare/side.hpp"
#include "fitting/compare/spans.hpp"
#include "fitting/model/fitted_model.hpp"
#include "fitting/model/loop_split.hpp"
#include "fitting/model/predict.hpp"
#include "fitting/report/reader_units.hpp"
#include "fitting/report/section.hpp"
#include "fitting/ride/ride_json.hpp"
#include "protocol/record/sweep_record.hpp"

namespace fitting {

// A record and the fitted model's answer to its very path.
struct MeasuredRecord {
  std::string name;
  protocol::SweepRecord record;
  std::vector<double> simulated_N;  // of each row; NaN where the model was not followed
};

struct ReportFork {
  std::string key;    // a or b, for names of files
  std::string label;  // the fork's name, told apart from the other's where they are alike
  FittedModel model;
  std::vector<MeasuredRecord> records;       // the first one is drawn large
  std::optional<LoopSplit> loop_split = {};  // of a settled cycle as fitted
  std::string loop_setting = {};             // "82.5 psi (5.69 bar), 0 spacers, at 4.0 mm/s"
};

// The two forks compared in one way.
struct ComparedPair {
  std::string id;       // as-tested, matched-sag; lower-case letters, digits and '-'
  std::string heading;  // "As tested"
  std::string curves;   // what is compared: "midlines at 4.0 mm/s", "slow springs"
  std::optional<double> full_travel_m;  // travel is counted in percent of this
  Side a;
  Side b;
  std::string setting_a;  // "81.0 psi (5.58 bar), 1 spacer"
  std::string setting_b;
  Difference difference;
  Crossings crossings;
  std::vector<Span> spans;
  std::vector<Span> thirds;
  std::optional<double> load_N;  // of the sag
  std::string load_source;       // "80 kg rider, ..."
  std::optional<Sag> sag_a;
  std::optional<Sag> sag_b;
  std::optional<Prediction> answer_a;  // of the models at these settings, where they were asked
  std::optional<Prediction> answer_b;
  std::vector<std::string> remarks;
};

// What was ridden, and the bench difference of the first pair as the riders met it.
struct ReportRides {
  std::optional<RideAnswer> a;
  std::optional<RideAnswer> b;
  std::optional<RiddenDifference> met;
};

struct ComparisonInput {
  std::string title;
  ReaderUnits units = reader_units();
  ReportFork a;
  ReportFork b;
  std::vector<ComparedPair> pairs;        // the first one is the fairest and speaks in the summary
  std::vector<std::string> cautions;      // of the whole report
  std::optional<NearestSetting> nearest;  // of B to A as in the first pair
  ReportRides rides;
  std::optional<MountScatter> mounts;  // none: no fork was mounted twice
  std::string program;                 // "springwright 0.1.0"
  std::string made;                    // date, as a label
};

Section comparison_section(const ComparisonInput& input, const ComparedPair& pair);
Section contributions_section(const ComparisonInput& input);
Section elements_section(const ComparisonInput& input);
Section rate_section(const ComparisonInput& input);
Section numbers_section(const ComparisonInput& input);
Section fans_section(const ComparisonInput& input);
Section loop_split_section(const ComparisonInput& input);
Section nearest_section(const ComparisonInput& input);
Section ridden_section(const ComparisonInput& input);
Section loops_section(const ComparisonInput& input);
Section parameters_section(const ComparisonInput& input);
Section settings_section(const ComparisonInput& input);
Section calibration_section(const ComparisonInput& input);
Section method_section(const ComparisonInput& input);

std::vector<Finding> comparison_summary(const ComparisonInput& input);

// REQUIRES: at least one pair.
Report make_comparison_report(const ComparisonInput& input);

}  // namespace fitting
