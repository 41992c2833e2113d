#include "calibration/performance/doubt.hpp"

#include <algorithm>
#include <array>
#include <cmath>

namespace calibration {
namespace {

const double kRectangular = std::sqrt(3.0);  // half width over standard deviation
// Curve and scatter both come from the residuals.
constexpr int kResidualPool = 1;

// Standard uncertainties, each already as a value; what is not there is 0.
struct Doubt {
  double value = 0.0;
  double standards = 0.0;
  double gravity = 0.0;
  double buoyancy = 0.0;
  double curve = 0.0;
  double scatter = 0.0;
  double zero_scatter = 0.0;      // of the zero of the day
  double resolution = 0.0;        // of the step alone
  double resolution_added = 0.0;  // of it what the scatter does not hold
  double creep = 0.0;
  double beyond_range = 0.0;
};

double gravity_relative(const Calibration& calibration) {
  return has_weights(calibration.readings) && !calibration.conditions.gravity_m_s2
             ? kUnstatedGravityRelative
             : 0.0;
}

double buoyancy_relative(const Calibration& calibration) {
  const bool neglected =
      has_weights(calibration.readings) && !calibration.conditions.air_density_kg_m3.has_value();
  return neglected ? kNeglectedBuoyancyRelative / kRectangular : 0.0;
}

// Of one reading of the unloaded cell. It is always reached the same way, so that it has no share
// in reversibility or in what the curve leaves: repeats alone tell how it scatters. Where none were
// taken, or too few to say better, all residuals do.
double repeat_scatter(const Calibration& calibration, double slope) {
  const double s = calibration.quality.residual_standard_deviation;
  if (!calibration.quality.lack_of_fit) return s;
  const double repeats =
      calibration.quality.lack_of_fit->replication_standard_deviation() * std::abs(slope);
  return std::min(s, repeats);
}

// Of the load, from its first reading to its last: a load may have stayed on for as long as nothing
// or as all of that.
double creep_relative(const Calibration& calibration, double slope) {
  if (!calibration.creep || calibration.creep->readings.size() < 2) return 0.0;
  const CreepRun& run = *calibration.creep;
  if (run.load_N == 0.0) return 0.0;
  const double crept = slope * (run.readings.back().reading - run.readings.front().reading);
  return std::abs(crept / run.load_N) / kRectangular;
}

void take_references(const Calibration& calibration, Doubt& doubt) {
  const double size = std::abs(doubt.value);
  const double gravity = gravity_relative(calibration);
  const double reference = calibration.reference_relative;
  doubt.standards = size * std::sqrt(std::max(0.0, reference * reference - gravity * gravity));
  doubt.gravity = size * std::min(gravity, reference);
  doubt.buoyancy = size * buoyancy_relative(calibration);
}

Doubt doubt_of(const Calibration& calibration, double reading, std::optional<double> zero_reading) {
  Doubt doubt;
  doubt.value =
      calibration.value(reading) - (zero_reading ? calibration.value(*zero_reading) : 0.0);
  take_references(calibration, doubt);
  const double size = std::abs(doubt.value);
  const double curve_variance =
      zero_reading ? polynomial_difference_variance(calibration.covariance, reading, *zero_reading)
                   : polynomial_variance(calibration.covariance, reading);
  doubt.curve = std::sqrt(std::max(0.0, curve_variance));
  const double s = calibration.quality.residual_standard_deviation;
  const double slope = polynomial_slope(calibration.coefficients, reading);
  const double step = 0.5 * calibration.resolution * std::abs(slope) / kRectangular;
  doubt.scatter = s;
  doubt.zero_scatter = zero_reading ? repeat_scatter(calibration, slope) : 0.0;
  // The zero is read off the same display.
  const double times = zero_reading ? std::sqrt(2.0) : 1.0;
  doubt.resolution = times * step;
  doubt.resolution_added = std::sqrt(
      std::max(0.0, step * step - s * s) +
      (zero_reading ? std::max(0.0, step * step - std::pow(doubt.zero_scatter, 2)) : 0.0));
  doubt.creep = size * creep_relative(calibration, slope);
  doubt.beyond_range = calibration.beyond_range_uncertainty(doubt.value);
  return doubt;
}

bool went_both_ways(const Calibration& calibration) {
  const auto goes = [&](Direction direction) {
    return std::any_of(calibration.readings.begin(), calibration.readings.end(),
                       [&](const Reading& reading) { return reading.direction == direction; });
  };
  return goes(Direction::ascending) && goes(Direction::descending);
}

class Lines {
 public:
  Lines(const Calibration& calibration, const Doubt& doubt)
      : calibration_(calibration),
        doubt_(doubt),
        unit_(value_unit(calibration.kind)),
        residual_degrees_(std::max(1, calibration.quality.degrees_of_freedom)) {}

  std::vector<BudgetLine> references() {
    relative(kStandardsSource, "normal", doubt_.standards);
    relative("gravity, not given", "rectangular", doubt_.gravity);
    relative("buoyancy, not corrected", "rectangular", doubt_.buoyancy);
    return lines_;
  }

  std::vector<BudgetLine> all() {
    references();
    curve();
    from_residuals("scatter of one reading", doubt_.scatter);
    zero();
    resolution();
    held_by_scatter();
    relative("creep while the load stays on", "rectangular", doubt_.creep);
    absolute("beyond the calibrated range", "normal", doubt_.beyond_range);
    return std::move(lines_);
  }

 private:
  void absolute(const char* source, const char* distribution, double uncertainty) {
    if (!(uncertainty > 0.0)) return;
    BudgetLine line;
    line.source = source;
    line.distribution = distribution;
    line.standard_uncertainty = uncertainty;
    line.unit = unit_;
    lines_.push_back(line);
  }

  void relative(const char* source, const char* distribution, double uncertainty) {
    if (!(uncertainty > 0.0) || doubt_.value == 0.0) return;
    absolute(source, distribution, uncertainty);
    lines_.back().standard_uncertainty = uncertainty / std::abs(doubt_.value);
    lines_.back().unit = "1";
    lines_.back().sensitivity = doubt_.value;
  }

  void from_residuals(const char* source, double uncertainty) {
    BudgetLine line;
    line.source = source;
    line.evaluation = 'A';
    line.distribution = "Student";
    line.standard_uncertainty = uncertainty;
    line.unit = unit_;
    line.degrees_of_freedom = residual_degrees_;
    line.pool = kResidualPool;
    lines_.push_back(line);
  }

  void curve() {
    from_residuals("curve (its coefficients)", doubt_.curve);
    const auto& lack = calibration_.quality.lack_of_fit;
    // Widened, it rests on what the means of the loads are off the curve by.
    if (calibration_.covariance_scale <= 1.0 || !lack) return;
    lines_.back().degrees_of_freedom = lack->degrees_of_freedom;
    lines_.back().pool = 0;
  }

  void zero() {
    if (!(doubt_.zero_scatter > 0.0)) return;
    from_residuals("scatter of the zero of the day", doubt_.zero_scatter);
    const auto& lack = calibration_.quality.lack_of_fit;
    if (!lack) return;
    lines_.back().degrees_of_freedom = lack->pure_error_degrees_of_freedom;
    lines_.back().pool = 0;
  }

  void resolution() {
    if (!(doubt_.resolution > 0.0)) return;
    const bool held = doubt_.resolution_added == 0.0;
    absolute(held ? "step of the display (held by the scatter)" : "step of the display",
             "rectangular", held ? doubt_.resolution : doubt_.resolution_added);
    if (held) lines_.back().sensitivity = 0.0;
  }

  void held_by_scatter() {
    if (!calibration_.quality.hysteresis || !went_both_ways(calibration_)) return;
    absolute(calibration_.kind == Kind::travel
                 ? "backlash (held by the scatter of readings up and down)"
                 : "reversibility and return to zero (held by the scatter of readings up and down)",
             "rectangular", 0.5 * *calibration_.quality.hysteresis / kRectangular);
    if (*calibration_.quality.hysteresis > 0.0) lines_.back().sensitivity = 0.0;
  }

  const Calibration& calibration_;
  const Doubt& doubt_;
  std::string unit_;
  double residual_degrees_;
  std::vector<BudgetLine> lines_;
};

}  // namespace

std::vector<BudgetLine> doubt_lines(const Calibration& calibration, double reading,
                                    std::optional<double> zero_reading) {
  const Doubt doubt = doubt_of(calibration, reading, zero_reading);
  return Lines(calibration, doubt).all();
}

std::vector<BudgetLine> reference_lines(const Calibration& calibration, double value) {
  Doubt doubt;
  doubt.value = value;
  take_references(calibration, doubt);
  return Lines(calibration, doubt).references();
}

double proportional_doubt_relative(const Calibration& calibration) {
  return std::hypot(calibration.reference_relative, buoyancy_relative(calibration),
                    creep_relative(calibration, calibration.mean_slope()));
}

double doubt_of_reading(const Calibration& calibration, double reading,
                        std::optional<double> zero_reading) {
  const Doubt doubt = doubt_of(calibration, reading, zero_reading);
  double variance = 0.0;
  for (const double part :
       {doubt.standards, doubt.gravity, doubt.buoyancy, doubt.curve, doubt.scatter,
        doubt.zero_scatter, doubt.resolution_added, doubt.creep, doubt.beyond_range}) {
    variance += part * part;
  }
  return std::sqrt(variance);
}

}  // namespace calibration
