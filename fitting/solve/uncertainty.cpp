#include "fitting/solve/uncertainty.hpp"

#include <Eigen/Dense>
#include <cmath>
#include <functional>

#include "protocol/error.hpp"

namespace fitting {
namespace {

// The model's error is never taken to be smaller than this share of the largest force. Without a
// clock the heat is missing from the model: the parameters take up most of it, and the residual
// shows the rest.
constexpr double kErrorFloor = 0.001;
constexpr double kErrorFloorNoClock = 0.0015;
constexpr double kHiddenNoClock = 2.5;
constexpr double kRankTolerance = 1e-9;
// Small steps for derivatives by what moves the path.
constexpr double kStretch = 1e-4;
constexpr double kYield_m_N = 1e-8;
constexpr double kShortestCorrelationShare = 1.0 / 12.0;  // of the swept travel

// A row-wise error of the force, in newtons, and what it does to the parameters.
class Propagator {
 public:
  Propagator(const Problem& problem, const std::vector<const SweepEvidence*>& sweeps,
             const Eigen::VectorXd& values, Uncertainty& out)
      : sweeps_(sweeps), values_(values) {
    const Linearisation at = linearise(problem, values);
    evidence_jacobian_ = at.jacobian.topRows(at.evidence_rows);
    // Columns are scaled to one length before the inversion, so that rank means collinearity.
    // A column of nothing stays one, and is seen in the rank.
    Eigen::VectorXd length = at.jacobian.colwise().norm().transpose();
    length = (length.array() > 0.0).select(length, 1.0);
    const Eigen::MatrixXd scaled = at.jacobian * length.cwiseInverse().asDiagonal();
    const Eigen::HouseholderQR<Eigen::MatrixXd> qr(scaled);
    const Eigen::MatrixXd triangle =
        qr.matrixQR().topRows(problem.size()).triangularView<Eigen::Upper>();
    const Eigen::JacobiSVD<Eigen::MatrixXd> svd(triangle, Eigen::ComputeFullV);
    out.singular_values = svd.singularValues();
    out.rank = static_cast<int>(
        (out.singular_values.array() > kRankTolerance * out.singular_values(0)).count());
    const Eigen::VectorXd inverse =
        out.singular_values.cwiseMax(kRankTolerance * out.singular_values(0)).cwiseInverse();
    const Eigen::MatrixXd half =
        length.cwiseInverse().asDiagonal() * svd.matrixV() * inverse.asDiagonal();
    covariance_ = half * half.transpose();
    out.statistical = covariance_;
    for (const SweepEvidence* sweep : sweeps) {
      Eigen::VectorXd force_N;
      RowMatrix gradient;
      ENSURE(sweep->simulate(values, force_N, &gradient));
      gradients_.push_back(std::move(gradient));
    }
  }

  // Shift of the parameters when the measured force of each row is off by error(sweep, row).
  Eigen::VectorXd shift(const std::function<double(std::size_t, int)>& error_N) const {
    Eigen::VectorXd weighted(evidence_jacobian_.rows());
    Eigen::Index at = 0;
    for (std::size_t s = 0; s < sweeps_.size(); ++s) {
      for (int i = 0; i < sweeps_[s]->rows(); ++i) {
        weighted(at++) = sweeps_[s]->weight(i) * error_N(s, i);
      }
    }
    return covariance_ * (evidence_jacobian_.transpose() * weighted);
  }

  // Change of each row's force, sweep by sweep, by what the path is moved.
  std::vector<Eigen::VectorXd> moved(const std::function<double(const PathNode&)>& move_m,
                                     double step) const {
    std::vector<Eigen::VectorXd> out(sweeps_.size());
    for (std::size_t s = 0; s < sweeps_.size(); ++s) {
      ENSURE(sweeps_[s]->change_by_moving(values_, move_m, step, out[s]));
    }
    return out;
  }

  double gradient(std::size_t sweep, int row, LawIndex index) const {
    return gradients_[sweep](row, static_cast<Eigen::Index>(index));
  }

 private:
  const std::vector<const SweepEvidence*>& sweeps_;
  const Eigen::VectorXd& values_;
  RowMatrix evidence_jacobian_;
  Eigen::MatrixXd covariance_;
  std::vector<RowMatrix> gradients_;
};

// Gaussian bumps along travel, one set per direction: half of the discrepancy's variance is common
// to all sweeps, half belongs to each.
Eigen::MatrixXd carry_discrepancy(const Propagator& propagator,
                                  const std::vector<const SweepEvidence*>& sweeps,
                                  const ResidualStructure& structure, double amplitude_N) {
  double travel_m = 0.0;
  for (const SweepEvidence* sweep : sweeps)
    travel_m = std::max(travel_m, sweep->path().largest_travel_m);
  const double width_m =
      std::max(structure.correlation_length_m, kShortestCorrelationShare * travel_m);
  const int bumps = static_cast<int>(std::ceil(travel_m / width_m)) + 1;
  // Spaced by their width, the squares of the bumps add up to sqrt(pi) nearly everywhere.
  const double height_N = amplitude_N * std::sqrt(0.5) / std::sqrt(std::sqrt(3.14159265358979));
  const auto bump = [&](int k, std::size_t s, int row) {
    const double u = (sweeps[s]->node(row).travel_m - k * width_m) / width_m;
    return height_N * std::exp(-0.5 * u * u);
  };
  Eigen::MatrixXd out;
  const auto add = [&](const Eigen::VectorXd& shift) {
    if (out.size() == 0) out.setZero(shift.size(), shift.size());
    out += shift * shift.transpose();
  };
  for (int direction : {+1, -1}) {
    // From one before the start on: its flank reaches in.
    for (int k = -1; k < bumps; ++k) {
      const auto of = [&](std::size_t s, int row) {
        return sweeps[s]->node(row).direction == direction ? bump(k, s, row) : 0.0;
      };
      add(propagator.shift(of));
      for (std::size_t only = 0; only < sweeps.size(); ++only) {
        add(propagator.shift([&](std::size_t s, int row) { return s == only ? of(s, row) : 0.0; }));
      }
    }
  }
  return out;
}

std::vector<Doubt> carry_doubts(const Propagator& propagator,
                                const std::vector<const SweepEvidence*>& sweeps,
                                const BenchDoubt& bench) {
  std::vector<Doubt> out;
  const auto add = [&](const char* name, double u, bool shared,
                       const std::function<double(std::size_t, int)>& per_unit_N) {
    if (u <= 0.0) return;
    out.push_back({name, u, shared, u * propagator.shift(per_unit_N)});
  };
  const auto node = [&](std::size_t s, int row) -> const PathNode& { return sweeps[s]->node(row); };
  const auto slope = [&](std::size_t s, int row) {
    return propagator.gradient(s, row, kTravelZero);
  };
  add("load_cell_gain", bench.gain_relative, true,
      [&](std::size_t s, int row) { return node(s, row).force_N; });
  add("load_cell_zero", bench.zero_N, true, [](std::size_t, int) { return 1.0; });
  add("travel_zero", bench.travel_zero_m, true,
      [&](std::size_t s, int row) { return -slope(s, row); });
  // A path that is stretched also slides friction farther and runs faster.
  const auto add_moved = [&](const char* name, double u, double step,
                             const std::function<double(const PathNode&)>& move_m) {
    if (u <= 0.0) return;
    const std::vector<Eigen::VectorXd> change_N = propagator.moved(move_m, step);
    add(name, u, true, [&](std::size_t s, int row) { return -change_N[s](row); });
  };
  add_moved("travel_scale", bench.travel_relative, kStretch,
            [](const PathNode& at) { return at.travel_m; });
  add_moved("frame_deflection", bench.frame_m_N, kYield_m_N,
            [](const PathNode& at) { return at.force_N; });
  add("pressure_gauge", bench.gauge_relative, true,
      [&](std::size_t s, int row) { return -propagator.gradient(s, row, kPressureScale); });
  add("gauge_reading", bench.gauge_reading_Pa, false,
      [&](std::size_t s, int row) { return -propagator.gradient(s, row, kFillError); });
  add("damper_rod_area", bench.rod_area_m2, false,
      [&](std::size_t s, int row) { return -propagator.gradient(s, row, kDamperRodArea); });
  add("damper_gas", bench.damper_gas_N, false,
      [&](std::size_t s, int row) { return -propagator.gradient(s, row, kDamperGas); });
  add("stroke_drag", bench.stroke_drag_N, false,
      [&](std::size_t s, int row) { return double(node(s, row).direction); });
  return out;
}

}  // namespace

Eigen::MatrixXd Uncertainty::total() const {
  Eigen::MatrixXd out = statistical + discrepancy;
  for (const Doubt& doubt : doubts) out += doubt.shift * doubt.shift.transpose();
  return out;
}

Uncertainty find_uncertainty(const Problem& problem,
                             const std::vector<const SweepEvidence*>& sweeps,
                             const Eigen::VectorXd& values, const ResidualStructure& structure,
                             const BenchDoubt& bench, double model_error_N) {
  Uncertainty out;
  const Propagator propagator(problem, sweeps, values, out);
  out.discrepancy = carry_discrepancy(propagator, sweeps, structure, model_error_N);
  out.doubts = carry_doubts(propagator, sweeps, bench);
  return out;
}

double model_error_N(const ResidualStructure& structure, bool has_time, int parameters,
                     std::size_t sweeps, double largest_force_N) {
  // The parameters have bent towards the error; what is left understates it by the freedom they
  // used.
  const double places = 2.0 * kStructureBins * double(sweeps);
  const double absorbed = std::sqrt(places / std::max(places - parameters, 0.25 * places));
  const double seen_N = structure.structured_N * absorbed * (has_time ? 1.0 : kHiddenNoClock);
  return std::max(seen_N, (has_time ? kErrorFloor : kErrorFloorNoClock) * largest_force_N);
}

}  // namespace fitting
