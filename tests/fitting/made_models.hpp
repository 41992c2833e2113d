// A fork that answers from one line of arithmetic, with the doubt that it is told to have: what
// compares models can then be held to closed forms.
#pragma once

#include <algorithm>
#include <cmath>

#include "fitting/compare/subject.hpp"

namespace made {

// One sealed chamber over the atmosphere, constant friction, no heat.
struct Chamber {
  double area_m2 = 7.5e-4;
  double volume_m3 = 1.9e-4;
  double spacer_m3 = 7.0e-6;
  double preload_N = -250.0;  // stands for the negative chamber
  double friction_N = 15.0;
  double travel_m = 0.160;
  double swept_m = 0.150;
  double limit_psi = 150.0;
  double own_N = 1.0;           // own doubt: a constant
  double gain_relative = 0.0;   // shared by certificate
  double gauge_relative = 0.0;  // shared by rig
  std::string certificate;
  std::string rig;

  double force_N(double x, double pressure_gauge_Pa, int spacers) const {
    const double volume = volume_m3 - spacers * spacer_m3;
    const double p_abs_Pa = pressure_gauge_Pa + protocol::kStandardAtmosphere_Pa;
    return (p_abs_Pa * volume / (volume - area_m2 * x) - protocol::kStandardAtmosphere_Pa) *
               area_m2 +
           preload_N;
  }
};

inline fitting::Prediction predict(const Chamber& chamber,
                                   const fitting::PredictionRequest& request) {
  fitting::Prediction out;
  const long n = std::lround(chamber.swept_m / request.step_m) + 1;
  for (long i = 0; i < n; ++i) {
    const double x = static_cast<double>(i) * request.step_m;
    const double spring_N = chamber.force_N(x, request.pressure_gauge_Pa, request.spacers);
    out.travel_m.push_back(x);
    out.spring_N.push_back(spring_N);
    out.midline_N.push_back(spring_N);
    out.compression_N.push_back(spring_N + chamber.friction_N);
    out.rebound_N.push_back(spring_N - chamber.friction_N);
    out.friction_N.push_back(chamber.friction_N);
  }
  const Eigen::VectorXd spring = Eigen::Map<const Eigen::VectorXd>(out.spring_N.data(), n);
  const Eigen::VectorXd gain = chamber.gain_relative * spring;
  const Eigen::VectorXd gauge =
      chamber.gauge_relative * (spring.array() - chamber.preload_N).matrix();
  out.own_spring_covariance = Eigen::MatrixXd::Constant(n, n, chamber.own_N * chamber.own_N);
  out.own_midline_covariance = out.own_spring_covariance;
  if (chamber.gain_relative > 0.0) out.shared.push_back({"load_cell_gain", gain, gain});
  if (chamber.gauge_relative > 0.0) out.shared.push_back({"pressure_gauge", gauge, gauge});
  for (long i = 0; i < n; ++i) {
    const double u =
        std::sqrt(chamber.own_N * chamber.own_N + gain(i) * gain(i) + gauge(i) * gauge(i));
    out.spring_standard_uncertainty_N.push_back(u);
    out.midline_standard_uncertainty_N.push_back(u);
  }
  std::vector<double> chamber_N;
  for (double force_N : out.spring_N) chamber_N.push_back(force_N - chamber.preload_N);
  out.elements = {{"positive chamber", chamber_N},
                  {"preload", std::vector<double>(out.spring_N.size(), chamber.preload_N)}};
  return out;
}

inline fitting::Subject model(const std::string& name, const Chamber& chamber, double psi,
                              int spacers = 0) {
  fitting::ModelSubject subject;
  subject.model.fork.name = name;
  subject.model.fork.travel_m = chamber.travel_m;
  subject.model.fork.maximum_pressure_Pa = protocol::from_unit(chamber.limit_psi, "psi");
  subject.model.context.swept_travel_m = chamber.swept_m;
  subject.model.context.rig_id = chamber.rig;
  subject.model.context.force_calibration_id = chamber.certificate;
  subject.model.usable = true;
  subject.setting.pressure_gauge_Pa = protocol::from_unit(psi, "psi");
  subject.setting.spacers = spacers;
  subject.predict = [chamber](const fitting::PredictionRequest& request)
      -> protocol::Result<fitting::Prediction> { return made::predict(chamber, request); };
  subject.slow_spring_N =
      [chamber](const fitting::PredictionRequest& request,
                const std::vector<double>& travel_m) -> protocol::Result<std::vector<double>> {
    const double volume = chamber.volume_m3 - request.spacers * chamber.spacer_m3;
    if (volume <= chamber.area_m2 * travel_m.back()) {
      return protocol::Error{protocol::Errc::input_out_of_range, "no air left"};
    }
    std::vector<double> out;
    for (double x : travel_m) {
      out.push_back(chamber.force_N(x, request.pressure_gauge_Pa, request.spacers));
    }
    return out;
  };
  fitting::Subject out;
  out.name = name;
  out.model = subject;
  return out;
}

}  // namespace made
