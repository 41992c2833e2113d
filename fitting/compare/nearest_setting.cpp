#include "fitting/compare/nearest_setting.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <map>
#include <utility>

#include "fitting/compare/interpolate.hpp"
#include "protocol/units.hpp"

namespace fitting {
namespace {

using protocol::Result;

constexpr double kRangeMin_m = 0.005;
constexpr double kStep_m = 0.002;  // springs are smooth; finer changes nothing

struct Target {
  double covered_m = 0.0;  // what both swept
  std::vector<double> travel_m;
  Eigen::VectorXd force_N;
  Eigen::VectorXd weight;  // adds up to 1
};

Result<void> check_range(const TravelRange& range, double covered_m) {
  if (range.to_m > covered_m) {
    return protocol::Error{
        protocol::Errc::input_out_of_range,
        fmt::format("a closest setting over {:.1f} to {:.1f} mm was asked for, but both forks were "
                    "swept to {:.1f} mm only, and what the models say beyond is not known well "
                    "enough; end the range there, or sweep further.",
                    1e3 * range.from_m, 1e3 * range.to_m, 1e3 * covered_m)};
  }
  if (range.from_m < 0.0 || range.to_m - range.from_m < kRangeMin_m) {
    return protocol::Error{
        protocol::Errc::input_out_of_range,
        fmt::format("a closest setting needs a range of 5 mm or more within the travel; {:.1f} to "
                    "{:.1f} mm is none.",
                    1e3 * range.from_m, 1e3 * range.to_m)};
  }
  return {};
}

Result<Target> make_target(const ModelSubject& a, const ModelSubject& b,
                           const NearestOptions& options) {
  const double covered_m = std::min(a.model.context.swept_travel_m, b.model.context.swept_travel_m);
  Target target;
  target.covered_m = covered_m;
  double from_m = options.from_share * covered_m;
  double to_m = options.to_share * covered_m;
  if (options.range) {
    const Result<void> known = check_range(*options.range, covered_m);
    if (!known) return known.error();
    from_m = options.range->from_m;
    to_m = options.range->to_m;
  }
  const long cells = std::max(4L, std::lround((to_m - from_m) / kStep_m));
  for (long i = 0; i <= cells; ++i) {
    target.travel_m.push_back(from_m + (to_m - from_m) * static_cast<double>(i) /
                                           static_cast<double>(cells));
  }
  const Result<std::vector<double>> force_N = a.slow_spring_N(a.setting, target.travel_m);
  if (!force_N) return force_N.error();
  target.force_N = vector_of(*force_N);
  target.weight = Eigen::VectorXd::Ones(target.force_N.size());
  if (options.weight) {
    for (Eigen::Index i = 0; i < target.weight.size(); ++i) {
      target.weight(i) = options.weight(target.travel_m[static_cast<std::size_t>(i)]);
    }
  }
  target.weight /= target.weight.sum();
  return target;
}

// A - B at a setting of B.
Result<Eigen::VectorXd> left_over(const Target& target, const ModelSubject& b,
                                  const PredictionRequest& request) {
  const Result<std::vector<double>> force_N = b.slow_spring_N(request, target.travel_m);
  if (!force_N) return force_N.error();
  return Eigen::VectorXd(target.force_N - vector_of(*force_N));
}

double rms_N(const Target& target, const Eigen::VectorXd& left_N) {
  return std::sqrt(target.weight.dot(left_N.cwiseAbs2()));
}

// The best whole number of psi with a given number of spacers. The force is nearly straight in the
// pressure, so the rms has one valley and thirds of the interval can be thrown away.
struct Valley {
  int psi = 0;
  double rms_N = 0.0;
};

Result<Valley> best_pressure(const Target& target, const ModelSubject& b, PredictionRequest request,
                             int psi_max) {
  std::map<int, double> known;
  std::optional<protocol::Error> failure;
  const auto rms_at = [&](int psi) {
    const auto found = known.find(psi);
    if (found != known.end()) return found->second;
    request.pressure_gauge_Pa = protocol::from_unit(psi, "psi");
    const Result<Eigen::VectorXd> left_N = left_over(target, b, request);
    if (!left_N) failure = left_N.error();
    return known[psi] = left_N ? rms_N(target, *left_N) : 0.0;
  };
  int low = 1;
  int high = psi_max;
  while (high - low > 2 && !failure) {
    const int first = low + (high - low) / 3;
    const int second = high - (high - low) / 3;
    rms_at(first) < rms_at(second) ? high = second : low = first;
  }
  Valley best{low, rms_at(low)};
  for (int psi = low + 1; psi <= high; ++psi) {
    if (rms_at(psi) < best.rms_N) best = {psi, rms_at(psi)};
  }
  if (failure) return *failure;
  return best;
}

void describe_rest(const Target& target, const Eigen::VectorXd& left_N, NearestSetting& out) {
  Eigen::Index largest = 0;
  left_N.cwiseAbs().maxCoeff(&largest);
  out.largest_left_N = left_N(largest);
  out.largest_left_at_m = target.travel_m[static_cast<std::size_t>(largest)];
  const Eigen::Index n = left_N.size();
  for (Eigen::Index part = 0; part < 3; ++part) {
    const Eigen::Index first = part * (n - 1) / 3;
    const Eigen::Index last = (part + 1) * (n - 1) / 3;
    out.thirds_left_N.push_back(left_N.segment(first, last - first + 1).mean());
  }
}

}  // namespace

Result<NearestSetting> find_nearest_setting(const ModelSubject& a, const ModelSubject& b,
                                            const NearestOptions& options) {
  if (!protocol::has_air_spring(b.model.fork.kind)) {
    return protocol::Error{protocol::Errc::input_out_of_range,
                           "'" + b.model.fork.name + "' has a coil, whose rate is as it is"};
  }
  const Result<Target> target = make_target(a, b, options);
  if (!target) return target.error();
  NearestSetting out;
  out.from_m = target->travel_m.front();
  out.to_m = target->travel_m.back();
  const Result<Eigen::VectorXd> as_set_N = left_over(*target, b, b.setting);
  if (!as_set_N) return as_set_N.error();
  out.rms_as_set_N = rms_N(*target, *as_set_N);

  const double limit_psi = protocol::in_unit(b.model.fork.maximum_pressure_Pa, "psi");
  const int psi_max = static_cast<int>(std::floor(limit_psi + 1e-9));
  std::optional<Valley> best;
  std::optional<protocol::Error> failure;
  for (int spacers = 0; spacers <= options.spacers_max; ++spacers) {
    PredictionRequest request = b.setting;
    request.spacers = spacers;
    // More spacers than the chamber holds at full travel: fewer were tried already.
    const Result<std::vector<double>> possible = b.slow_spring_N(request, {target->covered_m});
    const Result<Valley> valley =
        possible ? best_pressure(*target, b, request, psi_max) : Result<Valley>(possible.error());
    if (!valley) {
      failure = valley.error();
      break;
    }
    if (best && valley->rms_N >= best->rms_N) continue;
    best = *valley;
    out.spacers = spacers;
  }
  if (!best) return *failure;
  PredictionRequest request = b.setting;
  request.spacers = out.spacers;
  request.pressure_gauge_Pa = protocol::from_unit(best->psi, "psi");
  const Result<Eigen::VectorXd> left_N = left_over(*target, b, request);
  if (!left_N) return left_N.error();
  out.pressure_gauge_Pa = request.pressure_gauge_Pa;
  out.rms_left_N = best->rms_N;
  out.at_pressure_limit = best->psi == psi_max;
  describe_rest(*target, *left_N, out);
  return out;
}

}  // namespace fitting
