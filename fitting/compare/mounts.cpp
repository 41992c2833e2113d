#include "fitting/compare/mounts.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <limits>
#include <map>

#include "calibration/distributions.hpp"
#include "fitting/compare/interpolate.hpp"
#include "protocol/error.hpp"
#include "protocol/units.hpp"

namespace fitting {
namespace {

using protocol::Errc;
using protocol::Error;
using protocol::Result;

constexpr double kSamePressure_psi = 1.0;  // what a gauge and a pump can repeat
constexpr double kGridStep_m = 0.001;
constexpr double kCommonTravelMin_m = 0.005;
constexpr double kNormal95 = 1.959964;

struct Range {
  double from_m = 0.0;
  double to_m = 1.0e3;

  void meet(double first_m, double last_m) {
    from_m = std::max(from_m, first_m);
    to_m = std::min(to_m, last_m);
  }
};

std::string setting_words(const protocol::Setting& setting) {
  return fmt::format("{:.1f} psi with {} spacers",
                     protocol::in_unit(setting.pressure_gauge_Pa, "psi"), setting.spacers);
}

// Deviations of each mounting from their fork's mean, at the wanted travels, as columns.
Eigen::MatrixXd deviations_N(const Mountings& mountings, const std::vector<double>& travel_m) {
  const Eigen::VectorXd mean_N = mountings.mean_N();
  const Eigen::MatrixXd to_grid = held_interpolation(mountings.travel_m, travel_m);
  Eigen::MatrixXd out(to_grid.rows(), mountings.count());
  for (int i = 0; i < mountings.count(); ++i) {
    out.col(i) = to_grid * (mountings.midlines_N[static_cast<std::size_t>(i)] - mean_N);
  }
  return out;
}

}  // namespace

Result<void> check_repeats(const Sweeps& sweeps) {
  for (const CurveAnswer& sweep : sweeps) {
    const protocol::Metadata& first = sweeps.front().metadata;
    const protocol::Metadata& here = sweep.metadata;
    if (here.fork.name != first.fork.name) {
      return Error{Errc::record_unusable,
                   fmt::format("{} is of '{}' and {} of '{}': repeats are sweeps of one fork.",
                               sweep.name, here.fork.name, sweeps.front().name, first.fork.name)};
    }
    const double apart_psi = std::abs(
        protocol::in_unit(here.setting.pressure_gauge_Pa - first.setting.pressure_gauge_Pa, "psi"));
    if (here.setting.spacers != first.setting.spacers || apart_psi > kSamePressure_psi) {
      return Error{Errc::record_unusable,
                   fmt::format("{} was at {} and {} at {}: repeats are of one setting, else the "
                               "setting would count as scatter.",
                               sweep.name, setting_words(here.setting), sweeps.front().name,
                               setting_words(first.setting))};
    }
  }
  return {};
}

Eigen::VectorXd Mountings::mean_N() const {
  Eigen::VectorXd sum_N = Eigen::VectorXd::Zero(midlines_N.front().size());
  for (const Eigen::VectorXd& each : midlines_N) sum_N += each;
  return sum_N / static_cast<double>(count());
}

Result<Mountings> mountings_of(const Sweeps& sweeps) {
  ENSURE(!sweeps.empty());
  if (const Result<void> one = check_repeats(sweeps); !one) return one.error();
  Range range;
  for (const CurveAnswer& sweep : sweeps) {
    range.meet(sweep.midline.travel_m.front(), sweep.midline.travel_m.back());
  }
  if (range.to_m - range.from_m < kCommonTravelMin_m) {
    return Error{Errc::record_unusable,
                 "the repeats have less than 5 mm of travel in common; sweep all of them as far."};
  }
  Mountings out;
  const double step_m = sweeps.front().midline.grid_step_m;
  out.travel_m = even_grid_m(range.from_m, range.to_m,
                             std::max(4L, std::lround((range.to_m - range.from_m) / step_m)));
  std::map<int, std::pair<Eigen::VectorXd, int>> sums;
  int unnumbered = -1;  // mountings count upwards
  for (const CurveAnswer& sweep : sweeps) {
    const Eigen::VectorXd midline_N =
        interpolation(sweep.midline.travel_m, out.travel_m) * sweep.midline.force_N;
    const int number = sweep.metadata.conditions.mounting.value_or(unnumbered);
    if (number == unnumbered) --unnumbered;
    auto& [sum_N, count] = sums[number];
    sum_N = count == 0 ? midline_N : Eigen::VectorXd(sum_N + midline_N);
    ++count;
  }
  for (const auto& [number, sum] : sums) {
    out.midlines_N.push_back(sum.first / static_cast<double>(sum.second));
  }
  return out;
}

Result<std::optional<MountScatter>> mount_scatter(const Sweeps& a, const Sweeps& b) {
  MountScatter out;
  Range range;
  std::vector<Mountings> repeated;
  for (const auto& [sweeps, count] : {std::pair{&a, &out.mountings_a}, {&b, &out.mountings_b}}) {
    if (sweeps->empty()) continue;
    Result<Mountings> mountings = mountings_of(*sweeps);
    if (!mountings) return mountings.error();
    *count = mountings->count();
    if (*count < 2) continue;
    out.degrees_of_freedom += *count - 1;
    range.meet(mountings->travel_m.front(), mountings->travel_m.back());
    repeated.push_back(*std::move(mountings));
  }
  if (repeated.empty()) return std::optional<MountScatter>();
  out.travel_m = even_grid_m(range.from_m, range.to_m,
                             std::max(4L, std::lround((range.to_m - range.from_m) / kGridStep_m)));
  const auto n = static_cast<Eigen::Index>(out.travel_m.size());
  out.covariance_N2 = Eigen::MatrixXd::Zero(n, n);
  for (const Mountings& mountings : repeated) {
    const Eigen::MatrixXd off_N = deviations_N(mountings, out.travel_m);
    out.covariance_N2 += off_N * off_N.transpose();
  }
  out.covariance_N2 /= out.degrees_of_freedom;
  out.rms_N = std::sqrt(out.covariance_N2.diagonal().mean());
  const double wider = calibration::student_factor(0.95, out.degrees_of_freedom) / kNormal95;
  out.covariance_N2 *= wider * wider;
  return std::optional(std::move(out));
}

std::vector<char> mounting_order(int mountings) {
  std::vector<char> order;
  for (int pair = 0; pair < mountings; ++pair) {
    order.push_back(pair % 2 == 0 ? 'a' : 'b');
    order.push_back(pair % 2 == 0 ? 'b' : 'a');
  }
  return order;
}

double drift_left(const std::vector<char>& order) {
  double sum = 0.0;
  for (std::size_t i = 0; i < order.size(); ++i) {
    sum += (order[i] == 'a' ? 1.0 : -1.0) * static_cast<double>(i);
  }
  return sum / (0.5 * static_cast<double>(order.size()));
}

double expanded_mount_factor(int mountings) {
  if (mountings < 2) return std::numeric_limits<double>::infinity();
  return calibration::student_factor(0.95, 2.0 * (mountings - 1)) * std::sqrt(2.0 / mountings);
}

}  // namespace fitting
