#include "fitting/solve/parameter_map.hpp"

#include <cmath>

namespace fitting {

double ParameterMap::value_SI(const Eigen::VectorXd& values, int position) const {
  const FreeParameter& parameter = free[static_cast<std::size_t>(position)];
  if (parameter.scale == Scale::logarithmic)
    return parameter.centre_SI * std::exp(values(position));
  return parameter.centre_SI + parameter.unit_SI * values(position);
}

LawParameters<double> ParameterMap::law(const Eigen::VectorXd& values, int sweep) const {
  LawParameters<double> out = given;
  for (int i = 0; i < shared_size(); ++i) {
    out[free[static_cast<std::size_t>(i)].index] = value_SI(values, i);
  }
  if (fill_errors) out[kFillError] = fill_unit_Pa * values(fill_position(sweep));
  return out;
}

Eigen::VectorXd ParameterMap::slopes(const Eigen::VectorXd& values) const {
  Eigen::VectorXd out(shared_size());
  for (int i = 0; i < shared_size(); ++i) {
    const FreeParameter& parameter = free[static_cast<std::size_t>(i)];
    out(i) = parameter.scale == Scale::logarithmic ? value_SI(values, i) : parameter.unit_SI;
  }
  return out;
}

int ParameterMap::position_of(LawIndex index) const {
  for (int i = 0; i < shared_size(); ++i) {
    if (free[static_cast<std::size_t>(i)].index == index) return i;
  }
  return -1;
}

}  // namespace fitting
