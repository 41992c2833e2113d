// The two sets of sweeps that speed is measured on: one sweep of 4,000 samples, and twelve of
// 20,000 (four pressures by three spacer counts). Quasi-static, noise 1.5 N, made by the law.
#pragma once

#include "fitting/solve/parameter_map.hpp"
#include "tests/fitting/quasi_static.hpp"

namespace speed {

struct DataSet {
  std::vector<quasi_static::Sweep> sweeps;
  fitting::LawParameters<double> truth{};
  fitting::ParameterMap map;  // of the six free ones, 0 = the truth
  Eigen::VectorXd start;      // 30 % off

  std::size_t rows() const {
    std::size_t out = 0;
    for (const auto& sweep : sweeps) out += sweep.rows();
    return out;
  }
};

DataSet make_small();
DataSet make_joint();

}  // namespace speed
