#include "calibration/calibrate.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <map>
#include <set>

#include "calibration/certificate.hpp"
#include "calibration/polynomial_fit.hpp"

namespace calibration {
namespace {

using protocol::Errc;
using protocol::Error;
using protocol::Result;

// "line 7" of the file it came from, or its place in the list.
std::string place_of(const std::vector<Reading>& readings, size_t i) {
  return readings[i].line > 0 ? fmt::format("line {}", readings[i].line)
                              : fmt::format("reading {}", i + 1);
}

Result<void> check_particulars(const ReadingSet& set) {
  const Particulars& particulars = set.particulars;
  if (!is_date(particulars.date)) {
    return Error{Errc::input_out_of_range,
                 fmt::format("the date of the calibration, '{}', is not a date; write 2026-11-25.",
                             particulars.date)};
  }
  const std::string& limit = particulars.valid_until;
  if (!limit.empty() && (!is_date(limit) || limit < particulars.date)) {
    return Error{Errc::input_out_of_range,
                 fmt::format("valid until '{}' is not a date from {} on; write 2026-11-25.", limit,
                             particulars.date)};
  }
  for (const Standard& standard : particulars.standards) {
    const double relative = standard.relative_standard_uncertainty.value_or(0.0);
    if (!(relative >= 0.0 && relative < 0.1)) {
      return Error{Errc::input_out_of_range,
                   fmt::format("the relative standard uncertainty {} of standard '{}' must lie "
                               "from 0 to 0.1 (0.1 % is 0.001).",
                               relative, standard.name)};
    }
  }
  const double gravity = set.conditions.gravity_m_s2.value_or(protocol::kStandardGravity_m_s2);
  if (!(gravity > 9.7 && gravity < 9.9)) {
    return Error{Errc::input_out_of_range,
                 fmt::format("gravity {} m/s2 is not of this Earth (9.76 to 9.84).", gravity)};
  }
  const double air = set.conditions.air_density_kg_m3.value_or(0.0);
  if (!(air >= 0.0 && air < 2.0)) {
    return Error{
        Errc::input_out_of_range,
        fmt::format("air density {} kg/m3 must lie from 0 to 2; a room has about 1.2.", air)};
  }
  return {};
}

Result<void> check_saturation(const ReadingSet& set) {
  if (set.kind != Kind::force) return {};
  for (size_t i = 0; i < set.readings.size(); ++i) {
    const double counts = set.readings[i].reading;
    if (counts > set.counts_lowest && counts < set.counts_highest) continue;
    return Error{
        Errc::calibration_unusable,
        fmt::format("{}: {} counts is at the end of the converter ({} to {}): the reading "
                    "is saturated. Load less, or lower the gain.",
                    place_of(set.readings, i), counts, set.counts_lowest, set.counts_highest)};
  }
  return {};
}

// Within a series: infers each direction that is not said from the order, and refuses an order that
// contradicts the one said.
Result<void> settle_directions(std::vector<Reading>& readings) {
  std::map<int, size_t> last_of_series;
  for (size_t i = 0; i < readings.size(); ++i) {
    Reading& reading = readings[i];
    const auto [last, is_first] = last_of_series.try_emplace(reading.series, i);
    if (is_first) {
      if (reading.direction == Direction::unsaid) reading.direction = Direction::ascending;
      continue;
    }
    const Reading& before = readings[last->second];
    last->second = i;
    const Direction order = reading.reference > before.reference   ? Direction::ascending
                            : reading.reference < before.reference ? Direction::descending
                                                                   : before.direction;
    if (reading.direction == Direction::unsaid) reading.direction = order;
    if (reading.direction != order && reading.direction == before.direction) {
      return Error{Errc::calibration_unusable,
                   fmt::format("{}: {} after {} is out of order in an {} series; start a new "
                               "series, or mend the line.",
                               place_of(readings, i), reading.reference, before.reference,
                               direction_name(reading.direction))};
    }
  }
  return {};
}

Result<void> check_spread(const ReadingSet& set, int degree, bool through_origin) {
  std::set<double> loads;
  for (const Reading& reading : set.readings) {
    if (!through_origin || reading.reference != 0.0) loads.insert(reading.reference);
  }
  const size_t wanted = static_cast<size_t>(degree) + (through_origin ? 1 : 2);
  if (loads.size() >= wanted) return {};
  return Error{
      Errc::calibration_unusable,
      fmt::format("{} different {} cannot show whether the curve is right; take at least {}{}.",
                  loads.size(), set.kind == Kind::travel ? "positions" : "loads", wanted,
                  through_origin ? " beside zero" : ", zero among them")};
}

struct Columns {
  std::vector<double> readings;
  std::vector<double> references;
};

Columns columns_of(const std::vector<Reading>& readings) {
  Columns columns;
  for (const Reading& reading : readings) {
    columns.readings.push_back(reading.reading);
    columns.references.push_back(reading.reference);
  }
  return columns;
}

Result<void> check_monotonic(const PolynomialFit& fit, const std::vector<double>& readings) {
  const auto [low, high] = std::minmax_element(readings.begin(), readings.end());
  constexpr int kPlaces = 200;
  const double sign = polynomial_slope(fit.coefficients, *low);
  for (int i = 0; i <= kPlaces; ++i) {
    const double x = *low + (*high - *low) * i / kPlaces;
    if (polynomial_slope(fit.coefficients, x) * sign > 0.0) continue;
    return Error{Errc::calibration_unusable,
                 fmt::format("the fitted curve turns back near a reading of {}; check the readings "
                             "there, or take a lower degree.",
                             x)};
  }
  return {};
}

// The largest distance between the mean descending and the mean ascending reading at one load, as a
// value through the mean slope.
std::optional<double> hysteresis_of(const std::vector<Reading>& readings, double slope) {
  struct Mean {
    double sum = 0.0;
    int count = 0;
    void add(double value) { sum += value, ++count; }
    double value() const { return sum / count; }
  };
  std::map<double, std::pair<Mean, Mean>> by_load;
  for (const Reading& reading : readings) {
    auto& [up, down] = by_load[reading.reference];
    (reading.direction == Direction::descending ? down : up).add(reading.reading);
  }
  std::optional<double> largest;
  for (const auto& [load, means] : by_load) {
    const auto& [up, down] = means;
    if (up.count == 0 || down.count == 0) continue;
    largest = std::max(largest.value_or(0.0), std::abs((down.value() - up.value()) * slope));
  }
  return largest;
}

void remark_on_references(Calibration& result) {
  double standards_relative = 0.0;
  bool is_stated = !result.particulars.standards.empty();
  // Standards of one set err together, so the largest stands for all.
  for (const Standard& standard : result.particulars.standards) {
    is_stated = is_stated && standard.relative_standard_uncertainty.has_value();
    standards_relative =
        std::max(standards_relative, standard.relative_standard_uncertainty.value_or(0.0));
  }
  if (!is_stated) {
    standards_relative = std::max(standards_relative, kUnstatedStandardRelative);
    result.remarks.push_back(
        fmt::format("The uncertainty of the standard was not stated; {} % is assumed.",
                    protocol::number_text(100.0 * kUnstatedStandardRelative)));
  }
  result.reference_relative = standards_relative;
  const bool has_weights = std::any_of(result.readings.begin(), result.readings.end(),
                                       [](const Reading& r) { return r.load_kg.has_value(); });
  if (has_weights && !result.conditions.gravity_m_s2) {
    result.reference_relative = std::hypot(standards_relative, kUnstatedGravityRelative);
    result.remarks.push_back(fmt::format(
        "Local gravity was not given; standard gravity {} m/s2 is assumed, which leaves {} % in "
        "doubt.",
        protocol::number_text(protocol::kStandardGravity_m_s2),
        protocol::number_text(100.0 * kUnstatedGravityRelative)));
  }
}

// Fills curve, covariance and quality. `fit` is value on reading; `classical` is reading on value,
// where repeats share their abscissa and lack of fit can be told.
void take_fit(Calibration& result, const PolynomialFit& fit, const PolynomialFit& classical,
              const Columns& columns) {
  result.through_origin = fit.through_origin;
  result.coefficients = fit.coefficients;
  result.covariance = fit.covariance;
  Quality& quality = result.quality;
  quality.residual_standard_deviation = fit.residual_standard_deviation;
  quality.residual_sum_of_squares = fit.residual_sum_of_squares;
  quality.degrees_of_freedom = fit.degrees_of_freedom;
  for (const double residual : fit.residuals) {
    if (std::abs(residual) > std::abs(quality.largest_residual)) {
      quality.largest_residual = residual;
    }
  }
  quality.lack_of_fit = compute_lack_of_fit(classical, columns.references, columns.readings);
  constexpr double kSignificance = 0.05;
  if (quality.lack_of_fit && quality.lack_of_fit->probability < kSignificance) {
    const double lack_of_fit =
        quality.lack_of_fit->sum_of_squares / quality.lack_of_fit->degrees_of_freedom;
    const double all = classical.residual_sum_of_squares / classical.degrees_of_freedom;
    result.covariance_scale = std::max(1.0, lack_of_fit / all);
    for (double& element : result.covariance) element *= result.covariance_scale;
    result.remarks.push_back(fmt::format(
        "The curve does not pass through the means of its repeats (lack of fit F = {:.3g}, "
        "probability {:.2g}); the covariance of its coefficients is widened by {:.3g}.",
        quality.lack_of_fit->F, quality.lack_of_fit->probability, result.covariance_scale));
  }
  const auto [low, high] = std::minmax_element(columns.readings.begin(), columns.readings.end());
  const double mean_slope = (fit.value(*high) - fit.value(*low)) / (*high - *low);
  quality.hysteresis = hysteresis_of(result.readings, mean_slope);
}

}  // namespace

Result<Calibration> make_calibration(const ReadingSet& given, int degree) {
  ReadingSet set = given;
  const bool through_origin = set.kind == Kind::frame;
  if (through_origin) degree = 1;
  if (degree < 1 || degree > kDegreeMax) {
    return Error{Errc::input_out_of_range,
                 fmt::format("degree {} must be from 1 to {}.", degree, kDegreeMax)};
  }
  if (const Result<void> checked = check_particulars(set); !checked) return checked.error();
  for (Reading& reading : set.readings) {
    if (reading.load_kg) reading.reference = dead_weight_N(*reading.load_kg, set.conditions);
  }
  if (const Result<void> checked = check_saturation(set); !checked) return checked.error();
  if (const Result<void> settled = settle_directions(set.readings); !settled) {
    return settled.error();
  }
  if (const Result<void> checked = check_spread(set, degree, through_origin); !checked) {
    return checked.error();
  }

  const Columns columns = columns_of(set.readings);
  const Result<PolynomialFit> fit =
      fit_polynomial(columns.readings, columns.references, degree, through_origin);
  if (!fit) return fit.error();
  const Result<PolynomialFit> classical =
      fit_polynomial(columns.references, columns.readings, degree, through_origin);
  if (!classical) return classical.error();
  if (const Result<void> checked = check_monotonic(*fit, columns.readings); !checked) {
    return checked.error();
  }

  Calibration result;
  result.kind = set.kind;
  result.particulars = set.particulars;
  result.conditions = set.conditions;
  result.readings = set.readings;
  const auto [low, high] =
      std::minmax_element(columns.references.begin(), columns.references.end());
  result.range_low = *low;
  result.range_high = *high;
  remark_on_references(result);
  take_fit(result, *fit, *classical, columns);
  result.id = content_id(result);
  return result;
}

}  // namespace calibration
