// The checks of a cell with one known weight, as a control chart of individual values: is today's
// difference what chance makes of a cell that has not changed?
//
// What is charted is measured less known force. The first checks are the base line: their mean is
// the centre, and three standard deviations to either side are the limits, the standard deviation
// being the mean moving range over 1.128 (for two neighbours of a normal distribution). Taken from
// neighbours, it does not grow with a slow drift, which is what the chart is to show. Before there
// are enough checks, the certificate's own expanded uncertainty is the limit, about zero.
#pragma once

#include <cstddef>
#include <optional>
#include <span>
#include <string>
#include <vector>

namespace calibration {

// One check, as it is kept.
struct ControlPoint {
  std::string time;  // ISO 8601
  std::string certificate_id;
  std::string cell_id;
  double load_N = 0.0;
  double measured_N = 0.0;
  double expanded_uncertainty_N = 0.0;  // 95 %, of the difference
  std::string operator_name;

  double difference_N() const { return measured_N - load_N; }
  // By the certificate alone.
  bool is_within() const;
};

inline constexpr std::size_t kControlPointsMin = 8;     // before there are limits of its own
inline constexpr std::size_t kControlBaseLineMax = 20;  // the centre must not follow a drift
inline constexpr std::size_t kControlRunLength = 8;     // on one side of the centre
inline constexpr double kControlSigmas = 3.0;
inline constexpr double kMovingRangeDivisor = 1.128;  // d2 of two values
inline constexpr double kSameWeightRelative = 0.005;

struct ControlLimits {
  double centre = 0.0;
  double lower = 0.0;
  double upper = 0.0;
  std::size_t points = 0;  // of the base line

  bool hold(double value) const { return lower <= value && value <= upper; }
};

// The limits that these values set, each one used. Never narrower than least_half_width: checks
// that agree to the last digit must not make the next digit an alarm. Empty for fewer than two.
std::optional<ControlLimits> individuals_limits(std::span<const double> values,
                                                double least_half_width = 0.0);

enum class ControlSignal {
  none,
  beyond_certificate,  // more than the certificate's expanded uncertainty
  beyond_limits,
  one_side,  // the last kControlRunLength all above, or all below, the centre
};

struct ControlChart {
  std::vector<ControlPoint> points;       // one cell, certificate and load; in the order kept
  std::vector<ControlSignal> signals;     // beside the points
  std::optional<ControlLimits> limits;    // empty: too few checks yet
  double certificate_half_width_N = 0.0;  // of the newest point

  ControlSignal newest() const { return signals.empty() ? ControlSignal::none : signals.back(); }
};

// Of the kept points those of the newest one's cell, certificate and load. A point that the
// certificate did not allow is drawn and judged, but sets no limits.
ControlChart make_control_chart(std::span<const ControlPoint> kept, double least_half_width_N);

// A sentence for the person at the bench; empty for none.
std::string signal_sentence(const ControlChart& chart);

}  // namespace calibration
