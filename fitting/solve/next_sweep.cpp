#include "fitting/solve/next_sweep.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "fitting/solve/parallel.hpp"
#include "fitting/solve/parameter_table.hpp"
#include "fitting/solve/verdict.hpp"

namespace fitting {
namespace {

using protocol::Errc;
using protocol::Error;
using protocol::Result;
using protocol::SweepRecord;

constexpr double kUsual_m_s = 4e-3;
constexpr double kRowsPerSecond = 40.0;
constexpr int kCycles = 3;
constexpr double kPressures[] = {0.7, 0.85, 1.0, 1.15, 1.3};  // of the mean
constexpr double kSpeeds[] = {0.25, 1.0, 4.0};
constexpr double kFastest_m_s = 0.03;
constexpr double kDwell_s = 20.0;

// Where the carriage would be, with no forces yet.
SweepRecord make_way(const FitInput& input, const SweepCandidate& candidate) {
  SweepRecord out;
  out.metadata = input.records.front().metadata;
  out.metadata.record_id = "next";
  out.metadata.setting.pressure_gauge_Pa = candidate.pressure_gauge_Pa;
  out.metadata.setting.spacers = candidate.spacers;
  out.metadata.setting.start = protocol::GasStart::equilibrium;
  const double to_m = input.largest_travel_m;
  // However slow, so many rows that the reversal is seen.
  const double row_s = std::min(1.0 / kRowsPerSecond, 1e-4 / candidate.speed_m_s);
  const auto count = static_cast<int>(to_m / candidate.speed_m_s / row_s);
  const auto dwell = static_cast<int>(candidate.dwell_s * kRowsPerSecond);
  double time_s = 0.0;
  const auto add = [&](double travel_m, double after_s, int stroke) {
    out.time_s.push_back(time_s += after_s);
    out.travel_m.push_back(travel_m);
    out.force_N.push_back(0.0);
    out.stroke.push_back(stroke);
  };
  for (int stroke = 0; stroke < 2 * kCycles; ++stroke) {
    for (int i = 1; i <= count; ++i) {
      const double share = double(i) / count;
      add(to_m * (stroke % 2 == 0 ? share : 1.0 - share), row_s, stroke);
    }
    for (int i = 0; i < dwell; ++i) {
      add(stroke % 2 == 0 ? to_m : 0.0, 1.0 / kRowsPerSecond, stroke);
    }
  }
  return out;
}

std::vector<SweepCandidate> usual_candidates(const FitInput& input) {
  int most_spacers = 0;
  for (const SweepRecord& record : input.records) {
    most_spacers = std::max(most_spacers, record.metadata.setting.spacers);
  }
  const bool air = protocol::has_air_spring(input.fork.kind);
  // Records without a clock do not know their speed; without one it changes nothing.
  const double usual_m_s = input.mean_speed_m_s > 0.0 ? input.mean_speed_m_s : kUsual_m_s;
  std::vector<SweepCandidate> out;
  for (double pressure : kPressures) {
    const double pressure_Pa = pressure * input.mean_pressure_gauge_Pa;
    if (air && pressure_Pa > input.fork.maximum_pressure_Pa) continue;
    for (int spacers : air ? std::vector{0, most_spacers, most_spacers + 1} : std::vector{0}) {
      for (double speed : kSpeeds) {
        const double speed_m_s = speed * usual_m_s;
        if (speed_m_s > kFastest_m_s || !input.has_time) continue;
        out.push_back({pressure_Pa, spacers, speed_m_s, 0.0});
      }
      out.push_back({pressure_Pa, spacers, usual_m_s, 0.0});
      if (input.has_time) out.push_back({pressure_Pa, spacers, usual_m_s, kDwell_s});
    }
  }
  std::vector<SweepCandidate> distinct;
  for (const SweepCandidate& each : out) {
    if (std::find(distinct.begin(), distinct.end(), each) == distinct.end()) {
      distinct.push_back(each);
    }
  }
  return distinct;
}

// The fitted values where one more sweep has one more fill.
Eigen::VectorXd with_one_more(const LawRun& before, const LawRun& after) {
  Eigen::VectorXd out = Eigen::VectorXd::Zero(after.map.size());
  out.head(before.map.shared_size()) = before.solution.values.head(before.map.shared_size());
  if (before.map.fill_errors) {
    out.segment(before.map.shared_size(), before.map.sweeps) =
        before.solution.values.tail(before.map.sweeps);
  }
  return out;
}

const FittedParameter* find(const FittedModel& model, const std::string& name) {
  for (const FittedParameter& parameter : model.parameters) {
    if (parameter.name == name && parameter.sweep.empty()) return &parameter;
  }
  return nullptr;
}

Error unknown_quantity(const FittedModel& model, const std::string& name) {
  std::string list;
  for (const FittedParameter& parameter : model.parameters) {
    if (parameter.standard_uncertainty <= 0.0 || !parameter.sweep.empty()) continue;
    list += (list.empty() ? "" : ", ") + parameter.name;
  }
  return {Errc::usage, fmt::format("the fit has no '{}' to make surer; it has: {}.", name, list)};
}

class Foresight {
 public:
  Foresight(const FitInput& input, const LawRun& run, const FittedModel& model)
      : input_(input), run_(run), model_(model) {}

  // RETURNS: nothing where the fork could not make the sweep.
  std::optional<double> left(const SweepCandidate& candidate, const std::string& quantity) const {
    FitInput input = input_;
    const SweepRecord way = make_way(input_, candidate);
    Result<Path> path = make_path(way, port_zone_m(input_.fork));
    if (!path) return std::nullopt;
    path->noise_N = input_.paths.front().noise_N;
    input.records.push_back(way);
    input.paths.push_back(std::move(*path));
    input.slowest_m_s = std::min(input.slowest_m_s, candidate.speed_m_s);
    input.fastest_m_s = std::max(input.fastest_m_s, candidate.speed_m_s);
    const std::unique_ptr<LawRun> run = make_run(input, run_.form);
    run->structure = run_.structure;
    weigh(*run, run_.structure);
    run->solution = run_.solution;
    run->solution.values = with_one_more(run_, *run);
    if (!std::isfinite(cost_at(run->problem, run->solution.values))) return std::nullopt;
    // What the cell would read, for the doubts that grow with the force.
    run->sweeps.back()->foresee(run->solution.values, input.paths.back());
    FittedModel model = model_;
    model.parameters.clear();
    model.free.clear();
    model.shared.clear();
    fill_table(input, *run, uncertainty_of(input, *run), model);
    const FittedParameter* parameter = find(model, quantity);
    return parameter == nullptr ? std::nullopt : std::optional(parameter->standard_uncertainty);
  }

 private:
  const FitInput& input_;
  const LawRun& run_;
  const FittedModel& model_;
};

}  // namespace

Result<NextSweep> find_next_sweep(const std::vector<SweepRecord>& records,
                                  const std::string& quantity,
                                  std::vector<SweepCandidate> candidates,
                                  const FitOptions& options) {
  const Result<FitInput> input = make_fit_input(records, options.threads);
  if (!input) return input.error();
  const FittedRun fitted = fit_input(*input, options);
  if (!fitted.model.usable) {
    return Error{Errc::fit_not_usable,
                 fmt::format("the fit of these sweeps is not usable, so that it cannot say what "
                             "another would bring: {}",
                             fitted.model.warnings.empty() ? "" : fitted.model.warnings.front())};
  }
  const FittedParameter* now = find(fitted.model, quantity);
  if (now == nullptr || now->standard_uncertainty <= 0.0) {
    return unknown_quantity(fitted.model, quantity);
  }
  if (candidates.empty()) candidates = usual_candidates(*input);
  const Foresight foresight(*input, *fitted.run, fitted.model);
  std::vector<std::optional<double>> left(candidates.size());
  for_each_parallel(static_cast<int>(candidates.size()), options.threads, [&](int i) {
    const auto at = static_cast<std::size_t>(i);
    left[at] = foresight.left(candidates[at], quantity);
  });
  NextSweep out{quantity, now->unit, now->standard_uncertainty, {}};
  for (std::size_t i = 0; i < candidates.size(); ++i) {
    if (left[i]) out.prospects.push_back({candidates[i], *left[i]});
  }
  std::stable_sort(out.prospects.begin(), out.prospects.end(),
                   [](const Prospect& a, const Prospect& b) {
                     return a.standard_uncertainty < b.standard_uncertainty;
                   });
  return out;
}

}  // namespace fitting
