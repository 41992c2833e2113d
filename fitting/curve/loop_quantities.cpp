// Quantities that need the strokes themselves: breakaway, loss, repeatability, half-loop.
#include <fmt/core.h>

#include <Eigen/Cholesky>
#include <algorithm>
#include <cmath>
#include <utility>

#include "fitting/curve/quantities.hpp"

namespace fitting {
namespace {

constexpr double kBreakawayReach_m = 0.003;     // of travel from the turn that is looked at
constexpr double kBreakawayKneeMax_m = 0.0015;  // presliding is over by here
constexpr double kBreakawayKneeMin_m = 0.00005;
constexpr int kBreakawayKnees = 30;

struct Spread {
  double mean = 0.0;
  std::optional<double> of_mean;  // standard uncertainty of the mean, from two values on
};

Spread spread_of(const std::vector<double>& values) {
  Spread spread;
  const double n = static_cast<double>(values.size());
  for (double value : values) spread.mean += value / n;
  if (values.size() < 2) return spread;
  double squares = 0.0;
  for (double value : values) squares += (value - spread.mean) * (value - spread.mean);
  spread.of_mean = std::sqrt(squares / (n - 1.0) / n);
  return spread;
}

// Squares left by the best broken line F = a + r1 min(s, knee) + r2 max(s - knee, 0), and its force
// at the knee.
struct BrokenLine {
  double left_N2 = 0.0;
  double knee_force_N = 0.0;
};

BrokenLine fit_broken_line(const Eigen::VectorXd& s_m, const Eigen::VectorXd& force_N,
                           double knee_m) {
  Eigen::MatrixXd design(s_m.size(), 3);
  design.col(0).setOnes();
  design.col(1) = s_m.cwiseMin(knee_m) / kBreakawayReach_m;
  design.col(2) = (s_m.array() - knee_m).cwiseMax(0.0).matrix() / kBreakawayReach_m;
  // The normal equations are small and scaled; a column without points is pinned to zero.
  Eigen::Matrix3d normal = design.transpose() * design;
  normal.diagonal().array() += 1e-9;
  const Eigen::Vector3d fit = normal.ldlt().solve(design.transpose() * force_N);
  return {(force_N - design * fit).squaredNorm(), fit(0) + fit(1) * knee_m / kBreakawayReach_m};
}

// Force at which a compression stroke leaves presliding: the knee of its first millimetres.
std::optional<double> breakaway_force_N(const protocol::SweepRecord& record, const Stroke& stroke) {
  std::vector<double> s_m;
  std::vector<double> force_N;
  for (std::size_t i = stroke.first_row; i < stroke.moving_end; ++i) {
    const double s = record.travel_m[i] - stroke.from_m;
    if (s > kBreakawayReach_m) break;
    s_m.push_back(s);
    force_N.push_back(record.force_N[i]);
  }
  if (s_m.size() < 8) return std::nullopt;
  const auto n = static_cast<Eigen::Index>(s_m.size());
  const Eigen::VectorXd s = Eigen::Map<const Eigen::VectorXd>(s_m.data(), n);
  const Eigen::VectorXd f = Eigen::Map<const Eigen::VectorXd>(force_N.data(), n);
  std::optional<BrokenLine> best;
  for (int k = 0; k < kBreakawayKnees; ++k) {
    const double share = k / (kBreakawayKnees - 1.0);
    const double knee_m = kBreakawayKneeMin_m + share * (kBreakawayKneeMax_m - kBreakawayKneeMin_m);
    const BrokenLine line = fit_broken_line(s, f, knee_m);
    if (!best || line.left_N2 < best->left_N2) best = line;
  }
  return best->knee_force_N;
}

void add_breakaway(const protocol::SweepRecord& record, const Loop& loop,
                   std::vector<Quantity>& out) {
  std::vector<double> forces_N;
  for (const Stroke& stroke : loop.strokes) {
    if (stroke.direction < 0 || stroke.conditioning || stroke.other_speed) continue;
    const std::optional<double> force_N = breakaway_force_N(record, stroke);
    if (force_N) forces_N.push_back(*force_N);
  }
  Quantity quantity{
      "breakaway_force_N", std::nullopt, std::nullopt,
      "compression force at the knee where sliding starts, after the turn at the top"};
  if (forces_N.empty()) {
    quantity.note = "fewer than 8 rows in the first 3 mm of a compression stroke";
  } else {
    const Spread spread = spread_of(forces_N);
    const protocol::InstrumentDoubt& doubt = record.metadata.doubt;
    quantity.value = spread.mean;
    quantity.standard_uncertainty =
        std::hypot(spread.of_mean.value_or(0.0), doubt.zero_N, doubt.gain_relative * spread.mean);
  }
  out.push_back(std::move(quantity));
}

// Pairs of neighbouring whole strokes that make a measured cycle.
struct Cycle {
  std::size_t first_row = 0;
  std::size_t last_row = 0;
  Stroke compression;
};

std::vector<Cycle> measured_cycles(const Loop& loop) {
  std::vector<Cycle> cycles;
  for (std::size_t i = 0; i + 1 < loop.strokes.size(); ++i) {
    const Stroke& a = loop.strokes[i];
    const Stroke& b = loop.strokes[i + 1];
    if (a.conditioning || a.other_speed || a.partial || b.partial || a.cycle != b.cycle) continue;
    cycles.push_back({a.first_row, b.last_row, a.direction > 0 ? a : b});
  }
  return cycles;
}

std::vector<double> cut(const std::vector<double>& column, std::size_t first, std::size_t last) {
  return {column.begin() + static_cast<std::ptrdiff_t>(first),
          column.begin() + static_cast<std::ptrdiff_t>(last)};
}

// Work put in along a path that only goes one way.
double path_work_J(const protocol::SweepRecord& record, const Stroke& stroke) {
  double work = 0.0;
  for (std::size_t i = stroke.first_row + 1; i < stroke.last_row; ++i) {
    work += 0.5 * (record.force_N[i] + record.force_N[i - 1]) *
            (record.travel_m[i] - record.travel_m[i - 1]);
  }
  return work;
}

void add_loss(const protocol::SweepRecord& record, const Loop& loop, std::vector<Quantity>& out) {
  std::vector<double> losses_J;
  std::vector<double> percents;
  for (const Cycle& cycle : measured_cycles(loop)) {
    const double loss_J = loop_area_J(cut(record.travel_m, cycle.first_row, cycle.last_row),
                                      cut(record.force_N, cycle.first_row, cycle.last_row));
    losses_J.push_back(loss_J);
    const double in_J = path_work_J(record, cycle.compression);
    if (in_J > 0.0) percents.push_back(100.0 * loss_J / in_J);
  }
  Quantity loss{"loss_per_cycle_J", std::nullopt, std::nullopt, "no whole measured cycle"};
  Quantity percent{"loss_percent", std::nullopt, std::nullopt, "no whole measured cycle"};
  if (!losses_J.empty()) {
    const Spread spread = spread_of(losses_J);
    loss.value = spread.mean;
    loss.standard_uncertainty =
        std::hypot(spread.of_mean.value_or(0.0), record.metadata.doubt.gain_relative * spread.mean);
    loss.note = "area of the loop: friction and heat together";
  }
  if (!percents.empty()) {
    const Spread spread = spread_of(percents);
    percent.value = spread.mean;
    percent.standard_uncertainty = spread.of_mean;
    percent.note = "of the work put in while compressing";
  }
  out.push_back(std::move(loss));
  out.push_back(std::move(percent));
}

void add_half_loop(const protocol::SweepRecord& record, const Loop& loop,
                   std::vector<Quantity>& out) {
  Quantity quantity{"half_loop_mid_travel_N", std::nullopt, std::nullopt,
                    "friction and heat together: an upper bound of friction"};
  const double mid_m = 0.5 * record.metadata.fork.travel_m;
  const auto i = static_cast<std::size_t>(
      std::max(0L, std::lround((mid_m - loop.travel_m.front()) / loop.grid_step_m)));
  if (loop.single_stroke) {
    quantity.note = "one stroke only: there is no half-loop and friction is not determined";
  } else if (i >= loop.valid.size() || !loop.valid[i]) {
    quantity.note =
        fmt::format("both strokes do not cover {:.1f} mm, half of the fork's travel", mid_m * 1e3);
  } else {
    quantity.value = loop.half_loop_N[i];
    quantity.standard_uncertainty =
        std::hypot(loop.half_loop_standard_uncertainty_N[i],
                   record.metadata.doubt.gain_relative * loop.half_loop_N[i]);
  }
  out.push_back(std::move(quantity));
}

}  // namespace

protocol::Result<std::vector<Quantity>> loop_quantities(const protocol::SweepRecord& record,
                                                        const Loop& loop,
                                                        const QuantityOptions& options) {
  const protocol::Result<Curve> curve = midline_curve(loop);
  if (!curve) return curve.error();
  const protocol::Metadata& metadata = record.metadata;
  std::vector<Quantity> out = curve_quantities(
      *curve, {metadata.fork.travel_m, metadata.fork.bumper_m, metadata.doubt}, options);
  add_breakaway(record, loop, out);
  add_loss(record, loop, out);
  out.push_back({"repeatability_N", loop.repeatability_N, std::nullopt,
                 loop.repeatability_N ? "standard deviation of one cycle about the mean"
                                      : "needs two measured cycles"});
  add_half_loop(record, loop, out);
  return out;
}

}  // namespace fitting
