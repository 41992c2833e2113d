#include "calibration/performance/machine_class.hpp"

#include <algorithm>
#include <cmath>

#include "protocol/error.hpp"

namespace calibration {
namespace {

// From here up the standard asks for proof; below it limits may hold, and are looked at last.
constexpr double kProvenFrom = 0.2;
constexpr int kSeriesMin = 3;
constexpr int kLoadsMin = 5;
// Loads are put on with a hand: one that is a touch below 20 % is meant to be there.
constexpr double kLoadTolerance = 1e-3;

struct Limits {
  double machine_class;
  std::array<double, kQuantities7500> percent;  // in the order of Quantity7500
};

// ISO 7500-1:2018, largest values permitted, in percent.
constexpr std::array<Limits, kClasses7500.size()> kLimits = {{
    {0.5, {0.5, 0.5, 0.75, 0.05, 0.25}},
    {1.0, {1.0, 1.0, 1.5, 0.1, 0.5}},
    {2.0, {2.0, 2.0, 3.0, 0.2, 1.0}},
    {3.0, {3.0, 3.0, 4.5, 0.3, 1.5}},
}};

std::optional<double> of_point(const LoadPoint& point, Quantity7500 quantity) {
  switch (quantity) {
    case Quantity7500::accuracy_q:
      return point.accuracy_percent;
    case Quantity7500::repeatability_b:
      // One series repeats nothing.
      if (point.series < 2) return std::nullopt;
      return point.repeatability_percent;
    case Quantity7500::reversibility_v:
      return point.reversibility_percent;
    case Quantity7500::resolution_a:
      return point.resolution_percent;
    case Quantity7500::zero_f0:
      break;
  }
  return std::nullopt;
}

std::optional<double> class_of(Quantity7500 quantity, double percent) {
  for (const Limits& limits : kLimits) {
    if (std::abs(percent) <= limits.percent[static_cast<size_t>(quantity)]) {
      return limits.machine_class;
    }
  }
  return std::nullopt;
}

bool is_proven(const LoadPoint& point, double full_scale_N) {
  return std::abs(point.load_N) >= (kProvenFrom - kLoadTolerance) * full_scale_N;
}

QuantityVerdict judge(const ForcePerformance& performance, Quantity7500 quantity) {
  QuantityVerdict verdict;
  verdict.quantity = quantity;
  const auto consider = [&](double percent, double load_N) {
    if (verdict.measured && std::abs(percent) <= std::abs(verdict.worst_percent)) return;
    verdict.measured = true;
    verdict.worst_percent = percent;
    verdict.at_N = load_N;
  };
  if (quantity == Quantity7500::zero_f0) {
    if (performance.zero_return_percent) consider(*performance.zero_return_percent, 0.0);
  }
  for (const LoadPoint& point : performance.points) {
    const std::optional<double> percent = of_point(point, quantity);
    if (percent && is_proven(point, performance.full_scale_N)) consider(*percent, point.load_N);
  }
  if (verdict.measured) verdict.class_met = class_of(quantity, verdict.worst_percent);
  return verdict;
}

std::optional<double> overall_class(const ClassVerdict& verdict) {
  if (!verdict.of(Quantity7500::accuracy_q).measured ||
      !verdict.of(Quantity7500::repeatability_b).measured) {
    return std::nullopt;
  }
  double worst = 0.0;
  for (const QuantityVerdict& one : verdict.quantities) {
    if (!one.measured) continue;
    if (!one.class_met) return std::nullopt;
    worst = std::max(worst, *one.class_met);
  }
  return worst;
}

bool keeps(const LoadPoint& point, double machine_class) {
  for (size_t i = 0; i < kQuantities7500; ++i) {
    const auto quantity = static_cast<Quantity7500>(i);
    const std::optional<double> percent = of_point(point, quantity);
    if (percent && std::abs(*percent) > limit_percent(quantity, machine_class)) return false;
  }
  return true;
}

}  // namespace

std::string_view quantity_symbol(Quantity7500 quantity) {
  constexpr std::array<std::string_view, kQuantities7500> kSymbols = {"q", "b", "v", "f0", "a"};
  return kSymbols[static_cast<size_t>(quantity)];
}

double limit_percent(Quantity7500 quantity, double machine_class) {
  const auto limits = std::find_if(kLimits.begin(), kLimits.end(), [&](const Limits& each) {
    return each.machine_class == machine_class;
  });
  ENSURE(limits != kLimits.end());
  return limits->percent[static_cast<size_t>(quantity)];
}

ClassVerdict machine_class(const ForcePerformance& performance) {
  ClassVerdict verdict;
  for (size_t i = 0; i < kQuantities7500; ++i) {
    verdict.quantities[i] = judge(performance, static_cast<Quantity7500>(i));
  }
  verdict.overall = overall_class(verdict);
  const auto& points = performance.points;
  const auto enough = std::count_if(points.begin(), points.end(), [&](const LoadPoint& point) {
    return is_proven(point, performance.full_scale_N) && point.series >= kSeriesMin;
  });
  verdict.enough_readings = enough >= kLoadsMin;
  verdict.from_N = performance.full_scale_N;
  if (!verdict.overall) return verdict;
  std::vector<LoadPoint> from_top(points);
  std::sort(from_top.begin(), from_top.end(), [](const LoadPoint& a, const LoadPoint& b) {
    return std::abs(a.load_N) > std::abs(b.load_N);
  });
  for (const LoadPoint& point : from_top) {
    if (!keeps(point, *verdict.overall)) break;
    verdict.from_N = std::abs(point.load_N);
  }
  return verdict;
}

}  // namespace calibration
