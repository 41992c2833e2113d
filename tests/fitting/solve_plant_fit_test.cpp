// The whole fit on the plant, which knows nothing of the law that is fitted to it: what is found
// lies where the truth is, and what is foretold of a setting that was not swept comes true.
#include <algorithm>
#include <catch2/catch.hpp>
#include <cmath>
#include <map>

#include "fitting/model/predict.hpp"
#include "fitting/solve/fork_fit.hpp"
#include "tests/fitting/plant_records.hpp"

using namespace fitting;
using Catch::Matchers::Contains;
using Catch::Matchers::WithinAbs;
using Catch::Matchers::WithinRel;
using plant_records::VirtualFork;

namespace {

constexpr double kSpeed_m_s = 4e-3;

FittedModel fitted(const std::vector<protocol::SweepRecord>& records,
                   const FitOptions& options = {}) {
  const auto model = fit_fork(records, options);
  REQUIRE(model);
  return *model;
}

// Where one answer is all that is wanted of a fit, and not the search for it.
FitOptions few_starts() {
  FitOptions options;
  options.candidates = 16;
  options.starts = 3;
  return options;
}

const FittedParameter& parameter(const FittedModel& model, const std::string& name) {
  for (const FittedParameter& one : model.parameters) {
    if (one.name == name) return one;
  }
  FAIL("the model has no " << name);
  return model.parameters.front();
}

// Every parameter of the fork that has a truth, as printed.
std::map<std::string, double> truth_of(const VirtualFork& fork, double mean_psi) {
  const auto truth = fork.truth(mean_psi, 0);
  return {{"positive_volume", 1e6 * truth.positive_volume_m3()},
          {"negative_volume", 1e6 * truth.negative_volume_m3()},
          {"lower_leg_volume", 1e6 * truth.lower_leg_volume_m3()},
          {"preload", truth.preload_N()},
          {"transfer_travel", 1e3 * truth.transfer_travel_m()},
          {"friction_mid_travel", truth.friction_mid_travel_N(kSpeed_m_s)}};
}

void check_within_three(const FittedModel& model, const std::map<std::string, double>& truth,
                        const std::vector<std::string>& names) {
  for (const std::string& name : names) {
    const FittedParameter& found = parameter(model, name);
    CAPTURE(name, found.value, found.standard_uncertainty, truth.at(name));
    CHECK(found.status == ParameterStatus::fitted);
    CHECK(found.standard_uncertainty > 0.0);
    CHECK(std::abs(found.value - truth.at(name)) < 3.0 * found.standard_uncertainty);
  }
}

int not_determined(const FittedModel& model) {
  int count = 0;
  for (const FittedParameter& one : model.parameters) {
    if (one.status != ParameterStatus::not_determined) continue;
    ++count;
    CHECK_FALSE(one.reason.empty());
  }
  return count;
}

struct MidlineError {
  double rms_share = 0.0;      // of the largest force
  double in_deviations = 0.0;  // rms of the misfit over its stated uncertainty
  double half_loop_N = 0.0;    // foretold at mid travel
};

// The midline of a setting that was not swept, against the plant's own settled cycle.
MidlineError compare_midline(const VirtualFork& fork, const FittedModel& model, double psi,
                             int spacers) {
  const auto request = like_fitted(model, psi * plant_records::kPsi_Pa, spacers);
  const auto foretold = predict(model, request);
  REQUIRE(foretold);
  const auto cycle =
      fork.truth(psi, spacers).settled_cycle(kSpeed_m_s, 0.0, model.context.swept_travel_m);
  REQUIRE(cycle.travel_m.size() >= foretold->travel_m.size());
  MidlineError out;
  double squares = 0.0;
  double deviations = 0.0;
  int count = 0;
  double largest_N = 0.0;
  for (std::size_t i = 0; i < foretold->travel_m.size(); ++i) {
    const double share = foretold->travel_m[i] / model.fork.travel_m;
    largest_N = std::max(largest_N, cycle.compression_N[i]);
    if (share < 0.05 || share > 0.95) continue;
    const double off_N =
        foretold->midline_N[i] - 0.5 * (cycle.compression_N[i] + cycle.rebound_N[i]);
    squares += off_N * off_N;
    deviations += std::pow(off_N / foretold->midline_standard_uncertainty_N[i], 2);
    ++count;
  }
  out.rms_share = std::sqrt(squares / count) / largest_N;
  out.in_deviations = std::sqrt(deviations / count);
  const std::size_t middle = 160;  // 80 mm
  out.half_loop_N = 0.5 * (foretold->compression_N[middle] - foretold->rebound_N[middle]);
  return out;
}

void remove_clock(std::vector<protocol::SweepRecord>& records) {
  for (protocol::SweepRecord& record : records) record.time_s.clear();
}

bool warns(const FittedModel& model, const std::string& of) {
  for (const std::string& warning : model.warnings) {
    if (warning.find(of) != std::string::npos) return true;
  }
  return false;
}

}  // namespace

TEST_CASE("fit: four sweeps with a clock find the fork, its friction and what was not swept",
          "[fit]") {
  const std::string name = GENERATE("larch_160", "basalt_160");
  CAPTURE(name);
  const VirtualFork fork(name);
  const FittedModel model = fitted(fork.four_sweeps());
  CHECK(model.usable);
  const auto truth = truth_of(fork, 79.0);
  check_within_three(model, truth,
                     {"positive_volume", "negative_volume", "lower_leg_volume", "preload",
                      "transfer_travel", "friction_mid_travel"});
  CHECK(not_determined(model) <= 1);
  CHECK_THAT(parameter(model, "friction_mid_travel").value,
             WithinRel(truth.at("friction_mid_travel"), 0.15));
  // Three standard uncertainties are worth something only where they are small.
  CHECK(parameter(model, "positive_volume").standard_uncertainty <
        0.02 * truth.at("positive_volume"));
  CHECK(parameter(model, "negative_volume").standard_uncertainty <
        0.10 * truth.at("negative_volume"));
  CHECK(parameter(model, "friction_mid_travel").standard_uncertainty < 3.0);
  CHECK(parameter(model, "transfer_travel").standard_uncertainty < 0.5);
  for (const FittedParameter& one : model.parameters) {
    CHECK(one.statistical_uncertainty <= one.standard_uncertainty);
  }

  // The plant's wall coefficient is constant, and the criterion says so.
  CHECK(model.law == GasLaw::wall_coefficient);
  REQUIRE(model.laws_tried.size() == 2);
  CHECK(model.laws_tried[1].criterion > 20.0);
  CHECK(model.laws_tried[0].criterion == 0.0);

  const MidlineError misfit = compare_midline(fork, model, 78.0, 1);
  CHECK(misfit.rms_share < 0.01);
  CHECK(misfit.in_deviations < 2.0);
  // The half-loop is not the friction: the gas makes more than half of it.
  CHECK(misfit.half_loop_N > 2.0 * truth.at("friction_mid_travel"));

  // The gauge's error acts in the fit and again in the prediction, and cancels in part.
  const auto foretold = predict(model, like_fitted(model, 78.0 * plant_records::kPsi_Pa, 1));
  REQUIRE(foretold);
  FittedModel deaf = model;
  deaf.shared.clear();
  deaf.shared.push_back({"pressure_gauge", 0.01, true,
                         Eigen::VectorXd::Zero(static_cast<Eigen::Index>(model.free.size()))});
  const auto alone = predict(deaf, like_fitted(model, 78.0 * plant_records::kPsi_Pa, 1));
  REQUIRE(alone);
  for (const SharedCurveShift& shift : foretold->shared) {
    if (shift.name == "pressure_gauge")
      CHECK(shift.spring_N.norm() < 0.5 * alone->shared.front().spring_N.norm());
  }
}

TEST_CASE("fit: without a clock the volumes are found, and friction is said to be unknown",
          "[fit]") {
  const std::string name = GENERATE("larch_160", "basalt_160");
  CAPTURE(name);
  const VirtualFork fork(name);
  std::vector<protocol::SweepRecord> records = fork.four_sweeps();
  remove_clock(records);
  const FittedModel model = fitted(records, few_starts());
  CHECK(model.usable);
  CHECK(model.law == GasLaw::exponent);
  const auto truth = truth_of(fork, 79.0);
  check_within_three(model, truth, {"positive_volume", "negative_volume", "preload"});
  CHECK(parameter(model, "positive_volume").standard_uncertainty <
        0.10 * truth.at("positive_volume"));
  const FittedParameter& friction = parameter(model, "friction_mid_travel");
  CHECK(friction.status == ParameterStatus::not_determined);
  CHECK_THAT(friction.reason, Contains("upper bound"));
  CHECK(friction.value > truth.at("friction_mid_travel"));
  CHECK(parameter(model, "friction").status == ParameterStatus::not_determined);
  CHECK(warns(model, "friction is not determined"));
  const MidlineError misfit = compare_midline(fork, model, 78.0, 1);
  CHECK(misfit.rms_share < 0.01);
  CHECK(misfit.in_deviations < 2.0);
}

TEST_CASE("fit: one sweep alone says less, and nothing false", "[fit]") {
  const VirtualFork fork("larch_160");
  const protocol::SweepRecord record = fork.sweep(81.0, 1, 21);
  const FittedModel model = fitted({record});
  const auto truth = truth_of(fork, 81.0);
  CHECK(model.usable);
  for (const auto& [name, value] : truth) {
    const FittedParameter& found = parameter(model, name);
    if (found.status != ParameterStatus::fitted) continue;
    CAPTURE(name, found.value, found.standard_uncertainty);
    CHECK(std::abs(found.value - value) < 3.0 * found.standard_uncertainty);
  }
  // Four sweeps know the volume far better, and the one says so.
  CHECK(parameter(model, "positive_volume").standard_uncertainty > 4.0);
  CHECK(compare_midline(fork, model, 90.0, 0).in_deviations < 2.0);
}

TEST_CASE("fit: a one-way curve has a spring and no friction", "[fit]") {
  const VirtualFork fork("larch_160");
  protocol::SweepRecord record = fork.sweep(81.0, 1, 22);
  std::size_t end = 0;
  while (end < record.size() && record.stroke[end] == 0) ++end;
  record.metadata.single_stroke = true;
  record.metadata.conditioning_cycles = 0;
  for (auto* column : {&record.travel_m, &record.force_N, &record.time_s}) column->resize(end);
  record.stroke.resize(end);
  record.raw_steps.clear();
  record.raw_counts.clear();
  const bool clock = GENERATE(true, false);
  CAPTURE(clock);
  if (!clock) record.time_s.clear();
  const FittedModel model = fitted({record});
  const auto truth = truth_of(fork, 81.0);
  const FittedParameter& friction = parameter(model, "friction_mid_travel");
  CHECK(friction.status == ParameterStatus::not_determined);
  CHECK_FALSE(friction.reason.empty());
  for (const std::string name : {"positive_volume", "negative_volume", "preload"}) {
    const FittedParameter& found = parameter(model, name);
    CAPTURE(name, found.value, found.standard_uncertainty);
    CHECK(std::abs(found.value - truth.at(name)) < 3.0 * found.standard_uncertainty);
  }
}

// Slow cycles, and at once behind them so many strokes three times as fast.
protocol::SweepRecord series_cut_short(const VirtualFork& fork, int fast_strokes) {
  controller::virtual_rig::Plant plant(fork.plant);
  plant.pump(fork.setting(80.0, 1));
  controller::virtual_rig::SweepProgram program;
  program.conditioning_cycles = 0;
  program.measuring_cycles = 2;
  program.speed_m_s = kSpeed_m_s;
  protocol::SweepRecord record = controller::virtual_rig::plant_sweep(plant, program);
  program.measuring_cycles = 1;
  program.speed_m_s = 3.0 * kSpeed_m_s;
  const protocol::SweepRecord fast = controller::virtual_rig::plant_sweep(plant, program);
  const double later_s = record.time_s.back() - fast.time_s.front() + 0.0125;
  const int slow_strokes = record.stroke.back() + 1;
  for (std::size_t i = 0; i < fast.size() && fast.stroke[i] < fast_strokes; ++i) {
    record.time_s.push_back(fast.time_s[i] + later_s);
    record.stroke.push_back(fast.stroke[i] + slow_strokes);
    record.travel_m.push_back(fast.travel_m[i]);
    record.force_N.push_back(fast.force_N[i]);
  }
  record.raw_steps.clear();
  record.raw_counts.clear();
  record.metadata.fork = fork.caliper;
  return record;
}

bool tried_a_damper(const FittedModel& model) {
  return std::any_of(model.laws_tried.begin(), model.laws_tried.end(),
                     [](const LawTried& law) { return law.elements == "open damper"; });
}

// One way at two speeds and the other at one: drag of the other way and friction are the same
// there, and a damper of thousands of N s/m would take what is the friction's.
TEST_CASE("fit: a faster stroke one way alone does not bring a damper into the law", "[fit]") {
  const VirtualFork fork("larch_160");
  const FittedModel cut = fitted({series_cut_short(fork, 1)}, few_starts());
  CHECK_FALSE(tried_a_damper(cut));
  check_within_three(cut, truth_of(fork, 80.0), {"friction_mid_travel", "positive_volume"});
  CHECK(tried_a_damper(fitted({series_cut_short(fork, 2)}, few_starts())));
}

TEST_CASE("fit: what cannot be true is not called a good fit", "[fit]") {
  const VirtualFork fork("larch_160");
  controller::virtual_rig::SweepProgram brief;
  brief.conditioning_cycles = brief.measuring_cycles = 1;
  std::vector<protocol::SweepRecord> records = fork.four_sweeps(brief);
  const FitOptions few = few_starts();
  SECTION("travel in the wrong unit, twice as long") {
    for (protocol::SweepRecord& record : records) {
      for (double& x : record.travel_m) x *= 2.0;
    }
    const FittedModel model = fitted(records, few);
    CHECK_FALSE(model.usable);
    CHECK(warns(model, "check the fork file"));
  }
  SECTION("a piston diameter that is off by 15 %") {
    for (protocol::SweepRecord& record : records)
      record.metadata.fork.air_spring.piston_diameter_m *= 1.15;
    const FittedModel model = fitted(records, few);
    CHECK((!model.usable || warns(model, "the residual has a structure")));
  }
  SECTION("a pressure that was read off another scale") {
    records[2].metadata.setting.pressure_gauge_Pa *= 0.85;
    records[3].metadata.setting.pressure_gauge_Pa *= 0.85;
    const FittedModel model = fitted(records, few);
    CHECK((!model.usable || warns(model, "differs from its reading")));
  }
}
