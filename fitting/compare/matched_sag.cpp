#include "fitting/compare/matched_sag.hpp"

#include <fmt/core.h>

#include <cmath>
#include <utility>

#include "fitting/compare/interpolate.hpp"
#include "protocol/units.hpp"

namespace fitting {
namespace {

using protocol::Errc;
using protocol::Error;
using protocol::Result;

constexpr double kDefaultSagShare = 0.20;
// A's sag as set is taken over only where a rider might want it.
constexpr double kSagShareMin = 0.08;
constexpr double kSagShareMax = 0.45;
constexpr int kIterations = 100;
constexpr double kForceTolerance_N = 1e-6;

std::optional<Sag> sag_of(const Prediction& prediction, double load_N) {
  return find_sag(prediction.travel_m, vector_of(prediction.spring_N),
                  vector_of(prediction.friction_N),
                  vector_of(prediction.spring_standard_uncertainty_N), load_N);
}

// What a fork carries at a travel: by its slow spring, or by its measured midline.
std::optional<double> carried_N(const PreparedSubject& fork, double travel_m) {
  if (fork.prediction) {
    return force_at(fork.prediction->travel_m, vector_of(fork.prediction->spring_N), travel_m);
  }
  const Curve& midline = fork.subject.record->midline;
  return force_at(midline.travel_m, midline.force_N, travel_m);
}

RestingFork rest(const PreparedSubject& fork, double load_N) {
  RestingFork resting;
  if (fork.prediction) {
    resting.sag = sag_of(*fork.prediction, load_N);
    return resting;
  }
  const Side side = side_from_record(*fork.subject.record);
  Eigen::VectorXd variance_N2 = side.own_covariance_N2.diagonal();
  for (const SharedShift& doubt : side.shared) variance_N2 += doubt.force_N.cwiseAbs2();
  resting.sag = find_sag(side.travel_m, side.midline_N, {}, variance_N2.cwiseSqrt(), load_N);
  const Loop& loop = fork.subject.record->loop;
  if (!loop.single_stroke) {
    resting.loop_least_m =
        travel_at_force(loop.travel_m, vector_of(loop.compression.force_N), load_N);
    resting.loop_most_m = travel_at_force(loop.travel_m, vector_of(loop.rebound.force_N), load_N);
  }
  return resting;
}

// A load that the user said.
Result<std::optional<double>> said_load_N(const SagOptions& options, MatchedSag& out) {
  if (options.load_N) {
    out.load_source = "as asked";
    return std::optional<double>(*options.load_N);
  }
  if (!options.rider) return std::optional<double>();
  const Result<double> load_N = load_along_fork_N(*options.rider);
  if (!load_N) return load_N.error();
  out.load_source = "from " + describe(*options.rider);
  return std::optional<double>(*load_N);
}

// The sag that both forks are to have. Without one being asked for: under a known load the sag that
// A has as set, so that A stays and B follows; else a common one.
void choose_sag(const PreparedSubject& a, const Subject& b, const SagOptions& options,
                const std::optional<double>& load_N, MatchedSag& out) {
  if (options.sag_m) {
    out.sag_a_m = out.sag_b_m = *options.sag_m;
    out.sag_source = fmt::format("{:.1f} mm, as asked", *options.sag_m * 1e3);
    return;
  }
  double share = options.sag_share.value_or(kDefaultSagShare);
  std::string why = options.sag_share ? "as asked" : "since no sag was asked for";
  if (!options.sag_share && load_N) {
    const std::optional<Sag> sag = rest(a, *load_N).sag;
    const double share_of_a = sag ? sag->travel_m / a.subject.fork().travel_m : 0.0;
    if (share_of_a >= kSagShareMin && share_of_a <= kSagShareMax) {
      share = share_of_a;
      why = fmt::format("which '{}' has as set, since no sag was asked for", a.subject.name);
    }
  }
  out.sag_a_m = share * a.subject.fork().travel_m;
  out.sag_b_m = share * b.fork().travel_m;
  out.sag_source = fmt::format("{:.1f} % of each fork's travel, {}", share * 100.0, why);
}

// A load for those who said none: what A carries as set at the sag wanted.
Result<double> assumed_load_N(const PreparedSubject& a, MatchedSag& out) {
  const std::optional<double> load_N = carried_N(a, out.sag_a_m);
  if (!load_N || *load_N <= 0.0) {
    return Error{Errc::input_out_of_range,
                 fmt::format("'{}' carries nothing at {:.1f} mm, so no load could be assumed; say "
                             "--load or --rider-mass",
                             a.subject.name, out.sag_a_m * 1e3)};
  }
  out.load_source = fmt::format(
      "since no load was given: the one that '{}' carries as set at its sag of {:.1f} mm",
      a.subject.name, out.sag_a_m * 1e3);
  return *load_N;
}

// How much the spring force at a travel rises per pascal.
std::optional<double> force_per_Pa(const ModelSubject& subject, PredictionRequest request,
                                   double travel_m) {
  const double step_Pa = 0.01 * request.pressure_gauge_Pa;
  const double centre_Pa = request.pressure_gauge_Pa;
  // One-sided, downwards, so that the fork's limit is not overstepped.
  const Result<std::vector<double>> here = subject.slow_spring_N(request, {travel_m});
  request.pressure_gauge_Pa = centre_Pa - step_Pa;
  const Result<std::vector<double>> below = subject.slow_spring_N(request, {travel_m});
  if (!here || !below || step_Pa <= 0.0) return std::nullopt;
  return ((*here)[0] - (*below)[0]) / step_Pa;
}

Result<MatchedFork> pump_for_sag(const Subject& subject, double sag_m, double load_N) {
  const ModelSubject& model = *subject.model;
  const Result<double> pressure_Pa = pressure_for_sag_Pa(model, sag_m, load_N);
  if (!pressure_Pa) return protocol::at(subject.name, pressure_Pa.error());
  PredictionRequest request = model.setting;
  request.pressure_gauge_Pa = *pressure_Pa;
  Result<Prediction> prediction = model.predict(request);
  if (!prediction) return protocol::at(subject.name, prediction.error());
  MatchedFork matched;
  matched.pressure_gauge_Pa = *pressure_Pa;
  matched.prediction = *std::move(prediction);
  matched.resting.sag = sag_of(matched.prediction, load_N);
  const std::optional<double> doubt_N =
      force_at(matched.prediction.travel_m,
               vector_of(matched.prediction.spring_standard_uncertainty_N), sag_m);
  const std::optional<double> slope_N_Pa = force_per_Pa(model, request, sag_m);
  if (doubt_N && slope_N_Pa && *slope_N_Pa > 0.0) {
    matched.pressure_standard_uncertainty_Pa = *doubt_N / *slope_N_Pa;
  }
  return matched;
}

Result<MatchedFork> preload_for_sag(const Subject& subject, double sag_m, double load_N) {
  const ModelSubject& as_set = *subject.model;
  const Result<std::vector<double>> carried_N = as_set.slow_spring_N(as_set.setting, {sag_m});
  if (!carried_N) return protocol::at(subject.name, carried_N.error());
  MatchedFork matched;
  matched.added_preload_N = load_N - (*carried_N)[0];
  FittedModel preloaded = as_set.model;
  preloaded.law_values[kPreload] += *matched.added_preload_N;
  Result<Prediction> prediction = predict(preloaded, as_set.setting);
  if (!prediction) return protocol::at(subject.name, prediction.error());
  matched.prediction = *std::move(prediction);
  matched.resting.sag = sag_of(matched.prediction, load_N);
  return matched;
}

Result<MatchedFork> set_for_sag(const Subject& subject, double sag_m, double load_N) {
  return protocol::has_air_spring(subject.fork().kind) ? pump_for_sag(subject, sag_m, load_N)
                                                       : preload_for_sag(subject, sag_m, load_N);
}

Result<void> compare_matched(const Subject& a, const Subject& b, const DifferenceOptions& options,
                             MatchedSag& out) {
  Result<MatchedFork> fork_a = set_for_sag(a, out.sag_a_m, out.load_N);
  Result<MatchedFork> fork_b = set_for_sag(b, out.sag_b_m, out.load_N);
  if (!fork_a) return fork_a.error();
  if (!fork_b) return fork_b.error();
  out.a = *std::move(fork_a);
  out.b = *std::move(fork_b);
  Result<Difference> difference =
      difference_of(side_from_prediction(a.name, a.model->model, out.a->prediction),
                    side_from_prediction(b.name, b.model->model, out.b->prediction), options);
  if (!difference) return difference.error();
  out.difference = *std::move(difference);
  out.crossings = find_crossovers(*out.difference);
  out.spans = find_spans(*out.difference);
  out.thirds = find_thirds(*out.difference);
  return {};
}

}  // namespace

std::string preload_words(double added_N) {
  return fmt::format("{:.0f} N {} preload", std::abs(added_N), added_N < 0.0 ? "less" : "more");
}

Result<double> pressure_for_sag_Pa(const ModelSubject& subject, double sag_m, double load_N) {
  PredictionRequest request = subject.setting;
  std::optional<Error> failure;
  const auto excess_N = [&](double pressure_Pa) {
    request.pressure_gauge_Pa = pressure_Pa;
    const Result<std::vector<double>> force_N = subject.slow_spring_N(request, {sag_m});
    if (!force_N) failure = force_N.error();
    return force_N ? (*force_N)[0] - load_N : 0.0;
  };
  double low_Pa = protocol::from_unit(1.0, "psi");
  double high_Pa = subject.model.fork.maximum_pressure_Pa;
  double at_low_N = excess_N(low_Pa);
  double at_high_N = excess_N(high_Pa);
  if (failure) return *failure;
  if (at_low_N > 0.0 || at_high_N < 0.0) {
    return Error{Errc::input_out_of_range,
                 fmt::format("no pressure from 1 psi to the fork's limit of {:.0f} psi makes it "
                             "carry {:.0f} N at {:.1f} mm (it carries {:.0f} N to {:.0f} N there); "
                             "ask for another load or sag",
                             protocol::in_unit(high_Pa, "psi"), load_N, sag_m * 1e3,
                             at_low_N + load_N, at_high_N + load_N)};
  }
  // Regula falsi, halving the weight of an end that stays: the force is nearly straight in the
  // pressure, so a few steps do.
  for (int i = 0; i < kIterations && !failure; ++i) {
    const double middle_Pa = high_Pa - at_high_N * (high_Pa - low_Pa) / (at_high_N - at_low_N);
    const double at_middle_N = excess_N(middle_Pa);
    if (std::abs(at_middle_N) < kForceTolerance_N) {
      low_Pa = high_Pa = middle_Pa;
      break;
    }
    if (at_middle_N > 0.0) {
      high_Pa = middle_Pa;
      at_high_N = at_middle_N;
      at_low_N *= 0.5;
    } else {
      low_Pa = middle_Pa;
      at_low_N = at_middle_N;
      at_high_N *= 0.5;
    }
  }
  if (failure) return *failure;
  return high_Pa;
}

Result<MatchedSag> match_sag(const PreparedSubject& a, const PreparedSubject& b,
                             const SagOptions& options,
                             const DifferenceOptions& difference_options) {
  MatchedSag out;
  const Result<std::optional<double>> said_N = said_load_N(options, out);
  if (!said_N) return said_N.error();
  choose_sag(a, b.subject, options, *said_N, out);
  const Result<double> load_N = *said_N ? Result<double>(**said_N) : assumed_load_N(a, out);
  if (!load_N) return load_N.error();
  out.load_N = *load_N;
  out.as_tested_a = rest(a, out.load_N);
  out.as_tested_b = rest(b, out.load_N);
  if (a.subject.record || b.subject.record) {
    out.not_matched_reason =
        fmt::format("'{}' is a record, and only a fitted model can say what another pressure does",
                    a.subject.record ? a.subject.name : b.subject.name);
    return out;
  }
  const Result<void> matched = compare_matched(a.subject, b.subject, difference_options, out);
  if (!matched) {
    out.a.reset();
    out.b.reset();
    out.not_matched_reason = matched.error().message;
  }
  return out;
}

}  // namespace fitting
