// The joint set with a clock: the same twelve settings made by the heat law, fitted from their
// cells.
#pragma once

#include <memory>

#include "fitting/solve/problem.hpp"
#include "fitting/solve/sweep_evidence.hpp"
#include "protocol/record/sweep_record.hpp"

namespace speed {

struct HeatSet {
  std::vector<protocol::SweepRecord> records;
  fitting::ParameterMap map;
  Eigen::VectorXd start;
};

HeatSet make_heat_joint();

struct HeatFit {
  Eigen::VectorXd values;
  Eigen::VectorXd deviations;  // standard, statistical
  int iterations = 0;
  double reduce_ms = 0.0;
  double solve_ms = 0.0;
};

HeatFit fit_heat(const HeatSet& set, int threads = 1);

// Paths and evidence of a set; what both fits and peers follow.
struct HeatEvidence {
  explicit HeatEvidence(const HeatSet& set, int threads = 1);

  std::vector<fitting::Path> paths;
  std::vector<std::unique_ptr<fitting::SweepEvidence>> sweeps;
  fitting::Problem problem;
};

}  // namespace speed
