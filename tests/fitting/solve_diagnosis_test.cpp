// What a fit finds wrong, where, and what it would look at next. Records are made by the law itself
// and spoilt in one known way.
#include <catch2/catch.hpp>

#include "fitting/solve/fit_input.hpp"
#include "fitting/solve/fork_fit.hpp"
#include "fitting/solve/next_sweep.hpp"
#include "tests/fitting/law_records.hpp"

using namespace fitting;
using Catch::Matchers::Contains;
using Catch::Matchers::WithinAbs;
using Catch::Matchers::WithinRel;

namespace {

FitOptions quick() {
  FitOptions options;
  options.candidates = 12;
  options.starts = 3;
  return options;
}

std::vector<protocol::SweepRecord> two_sweeps() {
  std::vector<protocol::SweepRecord> out = {
      law_records::sweep({.pressure_Pa = 4.8e5, .spacers = 0, .noise_N = 1.0, .seed = 1}),
      law_records::sweep({.pressure_Pa = 6.5e5, .spacers = 1, .noise_N = 1.0, .seed = 2})};
  return out;
}

FittedModel fitted(const std::vector<protocol::SweepRecord>& records,
                   const FitOptions& options = quick()) {
  const auto model = fit_fork(records, options);
  REQUIRE(model);
  return *model;
}

// Adds to the force of rows between two travels, by direction.
void add_force(protocol::SweepRecord& record, double from_m, double to_m, double in_N,
               double out_N) {
  for (std::size_t row = 0; row < record.size(); ++row) {
    if (record.travel_m[row] < from_m || record.travel_m[row] > to_m) continue;
    record.force_N[row] += record.stroke[row] % 2 == 0 ? in_N : out_N;
  }
}

const FittedParameter& parameter(const FittedModel& model, const std::string& name) {
  for (const FittedParameter& each : model.parameters) {
    if (each.name == name) return each;
  }
  FAIL("no " << name);
  return model.parameters.front();
}

}  // namespace

TEST_CASE("misfit: a record of the law itself has none", "[fit]") {
  const FittedModel model = fitted(two_sweeps());
  CHECK(model.usable);
  CHECK(model.misfits.empty());
  CHECK(model.spikes == 0);
  REQUIRE(model.singular_values.size() > 0);
  CHECK(model.singular_values.minCoeff() > 0.0);
}

TEST_CASE("misfit: a stretch that holds back is named by its place, both ways", "[fit]") {
  std::vector<protocol::SweepRecord> records = two_sweeps();
  for (protocol::SweepRecord& record : records) add_force(record, 0.060, 0.075, 12.0, -12.0);
  const FittedModel model = fitted(records);
  REQUIRE(model.misfits.size() == 2);
  for (const Misfit& misfit : model.misfits) {
    // Within a bin of 3 mm and its neighbour.
    CHECK_THAT(misfit.from_m, WithinAbs(0.060, 0.0065));
    CHECK_THAT(misfit.to_m, WithinAbs(0.075, 0.0065));
    CHECK_THAT(misfit.size_N, WithinAbs(12.0 * misfit.direction, 3.0));
    CHECK(misfit.sweep.empty());
    CHECK(misfit.significance > 3.0);
  }
  CHECK(model.misfits[0].direction == -model.misfits[1].direction);
  CHECK_THAT(model.warnings.front(), Contains("not in the model"));
}

TEST_CASE("misfit: a change during a sweep is named by its stroke, and spoils the fit", "[fit]") {
  std::vector<protocol::SweepRecord> records = two_sweeps();
  protocol::SweepRecord& record = records[1];
  // The load cell's gain steps by 3 % when the third stroke begins.
  for (std::size_t row = 0; row < record.size(); ++row) {
    if (record.stroke[row] >= 2) record.force_N[row] *= 1.03;
  }
  const FittedModel model = fitted(records);
  CHECK_FALSE(model.usable);
  REQUIRE_FALSE(model.misfits.empty());
  const Misfit& largest = model.misfits.front();
  CHECK(largest.sweep == record.metadata.record_id);
  CHECK((largest.stroke == 2 || largest.stroke == 3));
  CHECK_THAT(largest.text, Contains("changed during the sweep"));
}

TEST_CASE("fit: spikes are left out and counted, and change nothing", "[fit]") {
  const FittedModel clean = fitted(two_sweeps());
  std::vector<protocol::SweepRecord> records = two_sweeps();
  for (std::size_t row = 50; row + 50 < records[0].size(); row += 211) {
    records[0].force_N[row] += 900.0;
  }
  const FittedModel model = fitted(records);
  CHECK(model.spikes >= 10);
  CHECK(model.usable);
  const FittedParameter& volume = parameter(model, "positive_volume");
  CHECK_THAT(volume.value, WithinAbs(parameter(clean, "positive_volume").value,
                                     0.3 * volume.standard_uncertainty));
}

TEST_CASE("fit: sweeps at two speeds tell the damper and take it into the law", "[fit]") {
  LawParameters<double> truth = law_samples::fork();
  truth[kDamperCompression] = 800.0;
  truth[kDamperRebound] = 1100.0;
  std::vector<protocol::SweepRecord> records;
  for (double speed_m_s : {0.002, 0.012}) {
    records.push_back(law_records::sweep({.pressure_Pa = 5.5e5,
                                          .noise_N = 0.5,
                                          .rows_per_s = 2e4 * speed_m_s,
                                          .speed_m_s = speed_m_s},
                                         truth));
    records.back().metadata.record_id += speed_m_s > 0.01 ? "-fast" : "-slow";
  }
  const FittedModel model = fitted(records);
  CHECK(model.usable);
  CHECK(model.laws_tried.size() == 8);
  const FittedParameter& in = parameter(model, "damper_compression");
  CHECK_THAT(in.value, WithinAbs(800.0, 3.0 * in.standard_uncertainty));
  CHECK(in.standard_uncertainty < 400.0);
  const FittedParameter& out = parameter(model, "damper_rebound");
  CHECK_THAT(out.value, WithinAbs(1100.0, 3.0 * out.standard_uncertainty));
}

TEST_CASE("fit: what one pressure cannot tell is said with its partner's name", "[fit]") {
  const FittedModel model =
      fitted({law_records::sweep({.pressure_Pa = 5.5e5, .spacers = 0, .noise_N = 3.0, .seed = 4})});
  CHECK_THAT(parameter(model, "pressure_scale").reason, Contains("piston area"));
  for (const FittedParameter& each : model.parameters) {
    if (each.status != ParameterStatus::not_determined) continue;
    CAPTURE(each.name, each.reason);
    CHECK_THAT(each.reason, Contains("one pressure"));
  }
}

TEST_CASE("next sweep: what it promises, the sweep keeps", "[fit]") {
  const std::vector<protocol::SweepRecord> one = {
      law_records::sweep({.pressure_Pa = 4.8e5, .spacers = 0, .noise_N = 1.0, .seed = 1})};
  const SweepCandidate asked{6.5e5, 2, 0.004, 0.0};
  const auto next = find_next_sweep(one, "positive_volume", {asked}, quick());
  REQUIRE(next);
  CHECK(next->unit == "cm3");
  REQUIRE(next->prospects.size() == 1);
  const double promised = next->prospects[0].standard_uncertainty;
  CHECK(promised < 0.7 * next->standard_uncertainty);
  std::vector<protocol::SweepRecord> both = one;
  both.push_back(
      law_records::sweep({.pressure_Pa = 6.5e5, .spacers = 2, .noise_N = 1.0, .seed = 2}));
  // Because the promised sweep has another number of rows, and the structure is seen anew.
  CHECK_THAT(parameter(fitted(both), "positive_volume").standard_uncertainty,
             WithinRel(promised, 0.25));
}

TEST_CASE("next sweep: records without a clock get an answer too", "[fit]") {
  std::vector<protocol::SweepRecord> one = {
      law_records::sweep({.pressure_Pa = 4.8e5, .spacers = 0, .noise_N = 1.0, .seed = 1})};
  one.front().time_s.clear();
  const auto next = find_next_sweep(one, "positive_volume", {}, quick());
  REQUIRE(next);
  REQUIRE_FALSE(next->prospects.empty());
  CHECK(next->prospects.front().standard_uncertainty < next->standard_uncertainty);
}

TEST_CASE("fit: the turn of a coarse record is no spike", "[fit]") {
  // Rows every 2 mm, and a bumper that makes the last of them stand out.
  protocol::SweepRecord coarse = law_records::sweep({.pressure_Pa = 4.8e5});
  std::vector<double> time_s, travel_m, force_N;
  for (int stroke = 0; stroke < 6; ++stroke) {
    for (int i = 1; i <= 80; ++i) {
      const double x_m = 2e-3 * (stroke % 2 == 0 ? i : 80 - i);
      time_s.push_back(0.5 * double(time_s.size()));
      travel_m.push_back(x_m);
      const double into = std::max(0.0, (x_m - 0.150) / 0.010);
      force_N.push_back(9000.0 * x_m + 800.0 * into * into + (stroke % 2 == 0 ? 4.0 : -4.0));
    }
  }
  coarse.time_s = time_s;
  coarse.travel_m = travel_m;
  coarse.force_N = force_N;
  coarse.stroke.clear();
  coarse.raw_counts.clear();
  coarse.raw_steps.clear();
  const auto input = make_fit_input({coarse});
  REQUIRE(input);
  CHECK(input->spikes == 0);
}

TEST_CASE("next sweep: a quantity that is not there is refused with the list", "[fit]") {
  const auto next = find_next_sweep(two_sweeps(), "colour", {}, quick());
  REQUIRE_FALSE(next);
  CHECK(next.error().code == protocol::Errc::usage);
  CHECK_THAT(next.error().message, Contains("positive_volume"));
}
