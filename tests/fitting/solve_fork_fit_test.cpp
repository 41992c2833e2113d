// The fit as a function: the same answer whatever the order, the threads or the day; errors for
// what is no input; and a model that carries what a reader needs.
#include "fitting/solve/fork_fit.hpp"

#include <catch2/catch.hpp>
#include <limits>

#include "tests/fitting/law_records.hpp"

using namespace fitting;
using Catch::Matchers::Contains;
using Catch::Matchers::WithinAbs;
using Catch::Matchers::WithinRel;

namespace {

FitOptions quick(int threads = 2) {
  FitOptions options;
  options.threads = threads;
  options.candidates = 12;
  options.starts = 3;
  return options;
}

std::vector<protocol::SweepRecord> three_sweeps() {
  return {law_records::sweep({.pressure_Pa = 4.5e5, .spacers = 0, .noise_N = 1.0, .seed = 1}),
          law_records::sweep({.pressure_Pa = 6.5e5, .spacers = 0, .noise_N = 1.0, .seed = 2}),
          law_records::sweep({.pressure_Pa = 5.5e5, .spacers = 2, .noise_N = 1.0, .seed = 3})};
}

FittedModel fitted(const std::vector<protocol::SweepRecord>& records, const FitOptions& options) {
  const auto model = fit_fork(records, options);
  REQUIRE(model);
  return *model;
}

// Shared parameters agree to a small part of what is in doubt anyway.
void check_same(const FittedModel& a, const FittedModel& b, double share) {
  CHECK(a.law == b.law);
  CHECK(a.usable == b.usable);
  REQUIRE(a.free == b.free);
  for (std::size_t i = 0; i < a.free.size(); ++i) {
    const FittedParameter& one = a.parameters[i];
    const FittedParameter& other = b.parameters[i];
    CAPTURE(one.name);
    CHECK(std::abs(one.value - other.value) <= share * one.standard_uncertainty);
    CHECK_THAT(one.standard_uncertainty, WithinRel(other.standard_uncertainty, 1e-3));
    CHECK(one.status == other.status);
  }
  CHECK_THAT(a.rms_residual_N, WithinRel(b.rms_residual_N, 1e-6));
}

}  // namespace

TEST_CASE("fit: records of the law itself give back the law, within the noise", "[fit]") {
  const FittedModel model = fitted(three_sweeps(), quick());
  CHECK(model.usable);
  CHECK(model.law == GasLaw::wall_coefficient);
  CHECK_THAT(model.rms_residual_N, WithinRel(1.0, 0.03));
  CHECK(model.structured_residual_N < 0.3);
  const std::vector<std::pair<LawIndex, double>> truth = {
      {kPositiveVolume, 214.0}, {kNegativeVolume, 34.5},     {kLowerLegVolume, 405.0},
      {kPreload, 11.0},         {kTransferTravel, 3.2},      {kPreslidingTravel, 0.3},
      {kFriction, 6.5},         {kFrictionPerPressure, 1.15}};
  for (const auto& [index, value] : truth) {
    std::size_t at = 0;
    while (model.free[at] != index) ++at;
    const FittedParameter& found = model.parameters[at];
    CAPTURE(found.name, found.value, found.statistical_uncertainty, found.standard_uncertainty);
    CHECK(found.name == kLawParameters[index].name);
    CHECK(std::abs(found.value - value) < 4.0 * found.statistical_uncertainty);
  }
  // The doubt of the instruments stays, however little noise there is.
  CHECK(model.parameters[0].standard_uncertainty >
        3.0 * model.parameters[0].statistical_uncertainty);
}

TEST_CASE("fit: neither threads nor the records' order matter, and it repeats itself", "[fit]") {
  std::vector<protocol::SweepRecord> records = three_sweeps();
  const FittedModel base = fitted(records, quick(1));
  const FittedModel again = fitted(records, quick(1));
  for (std::size_t i = 0; i < base.parameters.size(); ++i) {
    CHECK(base.parameters[i].value == again.parameters[i].value);
    CHECK(base.parameters[i].standard_uncertainty == again.parameters[i].standard_uncertainty);
  }
  check_same(base, fitted(records, quick(3)), 1e-4);
  std::swap(records[0], records[2]);
  const FittedModel other = fitted(records, quick(1));
  check_same(base, other, 1e-2);
  // Each fill's error goes with its record.
  const auto fill_of = [](const FittedModel& model, const std::string& sweep) {
    for (const FittedParameter& one : model.parameters) {
      if (one.name == "fill_error" && one.sweep == sweep) return one.value;
    }
    FAIL("no fill error of " << sweep);
    return 0.0;
  };
  for (const protocol::SweepRecord& record : records) {
    const std::string& id = record.metadata.record_id;
    CHECK_THAT(fill_of(base, id), WithinAbs(fill_of(other, id), 0.02));
  }
}

TEST_CASE("fit: what is no input is an error, not a model", "[fit]") {
  CHECK_FALSE(fit_fork({}, quick()));
  std::vector<protocol::SweepRecord> records = {law_records::sweep({})};
  records[0].force_N[100] = std::numeric_limits<double>::quiet_NaN();
  const auto no_number = fit_fork(records, quick());
  REQUIRE_FALSE(no_number);
  CHECK(no_number.error().code == protocol::Errc::record_unusable);
  CHECK_THAT(no_number.error().message, Contains("row 101"));
  records = {law_records::sweep({}), law_records::sweep({})};
  records[1].metadata.fork.name = "Basalt 160";
  const auto two_forks = fit_fork(records, quick());
  REQUIRE_FALSE(two_forks);
  CHECK(two_forks.error().code == protocol::Errc::input_out_of_range);
}

TEST_CASE("fit: the model carries its context, and each doubt by its name", "[fit]") {
  std::vector<protocol::SweepRecord> records = {law_records::sweep({.noise_N = 1.0}),
                                                law_records::sweep({.pressure_Pa = 6.5e5})};
  for (protocol::SweepRecord& record : records) {
    record.metadata.rig_id = "bench 1";
    record.metadata.setting.vent.travel_m = 0.0;
    record.metadata.force_calibration.emplace();
    record.metadata.force_calibration->id = "abc";
    record.metadata.force_calibration->range_high = 3000.0;
  }
  const FittedModel model = fitted(records, quick());
  CHECK(model.context.rig_id == "bench 1");
  CHECK(model.context.force_calibration_id == "abc");
  CHECK(model.context.calibrated_force_N == 3000.0);
  CHECK(model.context.record_ids.size() == 2);
  CHECK_THAT(model.context.swept_travel_m, WithinAbs(0.146, 1e-6));
  CHECK_THAT(model.context.mean_pressure_gauge_Pa, WithinRel(604237.5, 1e-9));
  CHECK_THAT(model.context.mean_speed_m_s, WithinRel(0.004, 5e-3));
  CHECK(model.samples == records[0].size() + records[1].size());
  const auto carried = [&](const std::string& name) {
    for (const SharedDoubt& doubt : model.shared) {
      if (doubt.name == name) return doubt.shift.norm() > 0.0;
    }
    return false;
  };
  for (const char* name : {"load_cell_gain", "load_cell_zero", "travel_zero", "pressure_gauge"}) {
    CAPTURE(name);
    CHECK(carried(name));
  }
  // Total = own + every doubt that is carried, for each of the free parameters.
  for (std::size_t i = 0; i < model.free.size(); ++i) {
    const auto at = static_cast<Eigen::Index>(i);
    double variance = model.own_covariance(at, at);
    for (const SharedDoubt& doubt : model.shared) variance += doubt.shift(at) * doubt.shift(at);
    CHECK_THAT(model.parameters[i].standard_uncertainty, WithinRel(std::sqrt(variance), 1e-9));
  }
}
