#include "tests/benchmarks/false_minima/false_minima_run.hpp"

#include <cmath>
#include <random>

#include "fitting/solve/fork_fit.hpp"
#include "fitting/solve/parallel.hpp"
#include "tests/benchmarks/speed/data_sets.hpp"
#include "tests/fitting/law_records.hpp"

namespace false_minima {
namespace {

using namespace fitting;
using protocol::SweepRecord;

constexpr double kStartsOff = 0.3;
constexpr double kReached = 0.1;     // of the true volume
constexpr double kDeviations = 3.0;  // of the stated standard uncertainty
constexpr int kThreads = 2;

Run judge(const FittedModel& model, double true_volume_cm3) {
  Run out;
  out.rms_N = model.rms_residual_N;
  for (const FittedParameter& parameter : model.parameters) {
    if (parameter.name != "positive_volume") continue;
    out.volume_ratio = parameter.value / true_volume_cm3;
    const double off_cm3 = std::abs(parameter.value - true_volume_cm3);
    const bool honest = parameter.status != ParameterStatus::fitted ||
                        off_cm3 <= kDeviations * parameter.standard_uncertainty;
    if (honest) out.ending = Ending::wide;
    if (off_cm3 <= kReached * true_volume_cm3) out.ending = Ending::reached;
  }
  if (!model.usable) out.ending = Ending::refused;
  return out;
}

Count count(const SweepRecord& record, double true_volume_cm3, int runs, bool alone) {
  std::vector<Run> all(static_cast<std::size_t>(runs));
  for_each_parallel(runs, kThreads, [&](int i) {
    all[static_cast<std::size_t>(i)] =
        run_from(record, true_volume_cm3, static_cast<std::uint64_t>(i + 1), alone);
  });
  Count out;
  out.runs = runs;
  for (const Run& run : all) {
    out.reached += run.ending == Ending::reached;
    out.wide += run.ending == Ending::wide;
    out.refused += run.ending == Ending::refused;
    out.wrong += run.ending == Ending::wrong;
    if (run.ending != Ending::reached) out.others.push_back(run);
  }
  return out;
}

}  // namespace

SweepRecord sweep_by_exponent() {
  const speed::DataSet set = speed::make_small();
  const quasi_static::Sweep& sweep = set.sweeps.front();
  SweepRecord record;
  record.metadata.record_id = "without a clock";
  record.metadata.fork = law_records::fork();
  record.metadata.setting.pressure_gauge_Pa = sweep.model.at.pressure_gauge_Pa;
  record.metadata.setting.spacers = sweep.model.at.spacers;
  for (std::size_t k = 0; k < sweep.strokes.size(); ++k) {
    const quasi_static::Rows& rows = sweep.strokes[k];
    record.travel_m.insert(record.travel_m.end(), rows.travel_m.begin(), rows.travel_m.end());
    record.force_N.insert(record.force_N.end(), rows.force_N.begin(), rows.force_N.end());
    record.stroke.insert(record.stroke.end(), rows.travel_m.size(), static_cast<int>(k));
  }
  return record;
}

SweepRecord sweep_by_heat() {
  law_records::Plan plan;
  plan.noise_N = 1.5;
  plan.rows_per_s = 27.4;
  return law_records::sweep(plan);
}

Run run_from(const SweepRecord& record, double true_volume_cm3, std::uint64_t seed, bool alone) {
  SweepRecord moved = record;
  std::mt19937_64 random(seed);
  std::uniform_real_distribution<double> factor(1.0 - kStartsOff, 1.0 + kStartsOff);
  protocol::Fork& fork = moved.metadata.fork;
  fork.air_spring.positive_volume_m3->value = 1e-6 * true_volume_cm3 * factor(random);
  fork.air_spring.negative_volume_m3->value *= factor(random);
  fork.lower_legs.volume_m3->value *= factor(random);
  fork.air_spring.transfer_travel_m->value *= factor(random);
  FitOptions options;
  options.threads = 1;
  options.seed = seed;
  if (alone) {
    options.candidates = 0;
    options.starts = 1;
  }
  const auto model = fit_fork({moved}, options);
  ENSURE(model);
  Run out = judge(*model, true_volume_cm3);
  out.seed = seed;
  return out;
}

Count count_exponent(int runs, bool alone) {
  const double true_cm3 = 1e6 * speed::make_small().truth[kPositiveVolume];
  return count(sweep_by_exponent(), true_cm3, runs, alone);
}

Count count_heat(int runs, bool alone) {
  return count(sweep_by_heat(), 1e6 * law_samples::fork()[kPositiveVolume], runs, alone);
}

}  // namespace false_minima
