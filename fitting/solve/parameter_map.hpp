// Which of the law's parameters are free, and how the solver's dimensionless numbers become them.
#pragma once

#include <Eigen/Core>
#include <string>
#include <vector>

#include "fitting/model/law_parameters.hpp"

namespace fitting {

enum class Scale { logarithmic, linear };

struct FreeParameter {
  LawIndex index;
  Scale scale = Scale::logarithmic;
  double centre_SI = 1.0;  // value at 0; the start
  double unit_SI = 1.0;    // linear only: one solver unit
  // Spread of random starts, in solver units about the centre.
  double spread = 0.35;
  // What is assumed without data, in solver units; 0: nothing.
  double prior_standard_uncertainty = 0.0;
  bool prior_is_stated = false;  // by the fork file's tolerance
  double low_SI = -1e300;        // linear only
  double high_SI = 1e300;
};

class ParameterMap {
 public:
  LawParameters<double> given{};  // values of what is not free
  std::vector<FreeParameter> free;
  int sweeps = 1;
  bool fill_errors = false;  // one more free parameter per sweep
  double fill_unit_Pa = 1000.0;

  int shared_size() const { return static_cast<int>(free.size()); }
  int size() const { return shared_size() + (fill_errors ? sweeps : 0); }
  int fill_position(int sweep) const { return shared_size() + sweep; }

  // The law's parameters of one sweep, SI.
  LawParameters<double> law(const Eigen::VectorXd& values, int sweep) const;

  // d(law parameter)/d(solver value) of each shared free parameter.
  Eigen::VectorXd slopes(const Eigen::VectorXd& values) const;

  double value_SI(const Eigen::VectorXd& values, int position) const;
  // -1 where the parameter is not free.
  int position_of(LawIndex index) const;
};

}  // namespace fitting
