#include "calibration/calibrate.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "calibration/certificate.hpp"
#include "calibration/degree_choice.hpp"
#include "calibration/readings_check.hpp"
#include "calibration/standards/surroundings.hpp"
#include "calibration/standards/weights.hpp"
#include "calibration/statistics.hpp"

namespace calibration {
namespace {

using protocol::Errc;
using protocol::Error;
using protocol::Result;

// The largest distance between coming down and going up at one load, or at one place. From what is
// off the curve, since with a dial it is the reference that differs.
std::optional<double> hysteresis_of(const std::vector<Reading>& readings,
                                    const PolynomialFit& fit) {
  const std::vector<double> distances =
      down_less_up(readings, find_repeats(readings), fit.residuals);
  if (distances.empty()) return std::nullopt;
  return std::abs(largest_by_magnitude(distances));
}

// Standards of one set err together, so the largest uncertainty stands for all. ERRORS: a class of
// weights that is not known.
Result<double> standards_relative(Calibration& result) {
  double largest = 0.0;
  bool is_stated = !result.particulars.standards.empty();
  for (const Standard& standard : result.particulars.standards) {
    if (standard.relative_standard_uncertainty) {
      largest = std::max(largest, *standard.relative_standard_uncertainty);
    } else if (!standard.weight_class.empty()) {
      const Result<double> of_class = weight_relative_standard_uncertainty(standard.weight_class);
      if (!of_class)
        return protocol::at(fmt::format("standard '{}'", standard.name), of_class.error());
      largest = std::max(largest, *of_class);
    } else {
      is_stated = false;
    }
  }
  if (!is_stated) {
    largest = std::max(largest, kUnstatedStandardRelative);
    result.remarks.push_back(
        fmt::format("The uncertainty of the standard was not stated; {} % is assumed.",
                    protocol::number_text(100.0 * kUnstatedStandardRelative)));
  }
  for (const std::string& expired : expired_standards(result.particulars)) {
    result.remarks.push_back(expired);
  }
  return largest;
}

Result<void> take_references(Calibration& result) {
  const Result<double> standards = standards_relative(result);
  if (!standards) return standards.error();
  result.reference_relative = *standards;
  if (has_weights(result.readings) && !result.conditions.gravity_m_s2) {
    result.reference_relative = std::hypot(*standards, kUnstatedGravityRelative);
    result.remarks.push_back(fmt::format(
        "Local gravity was not given; standard gravity {} m/s2 is assumed, which leaves {} % in "
        "doubt.",
        protocol::number_text(protocol::kStandardGravity_m_s2),
        protocol::number_text(100.0 * kUnstatedGravityRelative)));
  }
  const auto [low, high] = std::minmax_element(
      result.readings.begin(), result.readings.end(),
      [](const Reading& a, const Reading& b) { return a.reference < b.reference; });
  result.range_low = low->reference;
  result.range_high = high->reference;
  return {};
}

void widen_by_lack_of_fit(Calibration& result, const FittedDegree& fitted) {
  const std::optional<LackOfFit>& lack = fitted.lack_of_fit;
  if (!lack || lack->probability >= kLackOfFitSignificance) return;
  const double lack_of_fit = lack->sum_of_squares / lack->degrees_of_freedom;
  const double all = fitted.classical.residual_sum_of_squares / fitted.classical.degrees_of_freedom;
  result.covariance_scale = std::max(1.0, lack_of_fit / all);
  for (double& element : result.covariance) element *= result.covariance_scale;
  result.remarks.push_back(fmt::format(
      "The curve does not pass through the means of its repeats (lack of fit F = {:.3g}, "
      "probability {:.2g}); the covariance of its coefficients is widened by {:.3g}.",
      lack->F, lack->probability, result.covariance_scale));
}

// Fills curve, covariance and quality.
void take_fit(Calibration& result, const FittedDegree& fitted) {
  const PolynomialFit& fit = fitted.fit;
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
  quality.lack_of_fit = fitted.lack_of_fit;
  widen_by_lack_of_fit(result, fitted);
  quality.hysteresis = hysteresis_of(result.readings, fit);
}

Result<void> fit_curve(Calibration& result, std::optional<int> degree) {
  if (degree) {
    const Result<FittedDegree> fitted = fit_degree(result.readings, result.kind, *degree);
    if (!fitted) return fitted.error();
    take_fit(result, *fitted);
    return {};
  }
  Result<DegreeChoice> choice = choose_degree(result.readings, result.kind);
  if (!choice) return choice.error();
  result.degree_trials = std::move(choice->trials);
  if (!choice->remark.empty()) result.remarks.push_back(choice->remark);
  take_fit(result, choice->chosen);
  return {};
}

void work_out_loads(ReadingSet& set) {
  for (Reading& reading : set.readings) {
    if (reading.load_kg) reading.reference = dead_weight_N(*reading.load_kg, set.conditions);
  }
  if (set.creep && set.creep->load_kg) {
    set.creep->load_N = dead_weight_N(*set.creep->load_kg, set.conditions);
  }
}

}  // namespace

std::vector<std::string> expired_standards(const Particulars& particulars) {
  std::vector<std::string> sentences;
  for (const Standard& standard : particulars.standards) {
    // ISO 8601 dates sort as text.
    if (standard.valid_until.empty() || standard.valid_until >= particulars.date) continue;
    sentences.push_back(
        fmt::format("The certificate of standard '{}' had run out on {}, before this calibration "
                    "of {}.",
                    standard.name, standard.valid_until, particulars.date));
  }
  return sentences;
}

Result<Calibration> make_calibration(const ReadingSet& given, std::optional<int> degree) {
  if (degree && (*degree < 1 || *degree > kDegreeMax)) {
    return Error{Errc::input_out_of_range,
                 fmt::format("degree {} must be from 1 to {}.", *degree, kDegreeMax)};
  }
  ReadingSet set = given;
  if (const Result<void> settled = settle_conditions(set); !settled) return settled.error();
  if (const Result<void> checked = check_particulars(set); !checked) return checked.error();
  work_out_loads(set);
  if (const Result<void> checked = check_readings(set); !checked) return checked.error();
  if (const Result<void> settled = settle_directions(set.readings); !settled) {
    return settled.error();
  }
  if (set.readings.empty()) {
    return Error{Errc::calibration_unusable, "there are no readings: 0 different loads."};
  }
  Calibration result;
  result.kind = set.kind;
  result.particulars = set.particulars;
  result.conditions = set.conditions;
  result.readings = set.readings;
  result.creep = set.creep;
  result.resolution = set.resolution;
  result.remarks = set.remarks;
  if (const Result<void> taken = take_references(result); !taken) return taken.error();
  if (const Result<void> fitted = fit_curve(result, degree); !fitted) return fitted.error();
  result.id = content_id(result);
  return result;
}

}  // namespace calibration
