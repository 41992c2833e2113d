// A fitted model asked about a setting: the slow spring, the two strokes of a settled cycle, their
// doubt, and what each element of the fork contributes.
#pragma once

#include <Eigen/Core>
#include <optional>
#include <string>
#include <vector>

#include "fitting/model/fitted_model.hpp"

namespace fitting {

struct PredictionRequest {
  double pressure_gauge_Pa = 0.0;
  int spacers = 0;
  double temperature_K = 293.15;
  double ambient_pressure_Pa = protocol::kStandardAtmosphere_Pa;
  protocol::Vent vent;
  double speed_m_s = 0.004;
  double step_m = 0.0005;
  double travel_max_m = 0.0;  // 0: the largest swept travel
};

// A request that repeats the circumstances of the fitted sweeps at another pressure and spacer
// count.
PredictionRequest like_fitted(const FittedModel& model, double pressure_gauge_Pa, int spacers);

// One element's part of the slow spring: positive chamber, negative chamber, lower legs, preload,
// bumper.
struct ElementForce {
  std::string name;
  std::vector<double> force_N;
};

// The curves' move for one standard uncertainty of a doubt that other forks may share.
struct SharedCurveShift {
  std::string name;
  Eigen::VectorXd spring_N;   // M x 1
  Eigen::VectorXd midline_N;  // M x 1
};

// All vectors have the length M of travel_m, which ascends from 0.
struct Prediction {
  std::vector<double> travel_m;
  std::vector<double> spring_N;       // slow (isothermal), without friction
  std::vector<double> compression_N;  // settled cycle at the stated speed
  std::vector<double> rebound_N;
  std::vector<double> midline_N;   // mean of the two strokes
  std::vector<double> friction_N;  // kinetic friction at each travel, in the slow spring
  std::vector<double> spring_standard_uncertainty_N;   // total
  std::vector<double> midline_standard_uncertainty_N;  // total
  Eigen::MatrixXd own_spring_covariance;               // M x M, N^2, without the shared doubts
  Eigen::MatrixXd own_midline_covariance;              // M x M
  std::vector<SharedCurveShift> shared;
  std::vector<ElementForce> elements;  // add up to spring_N
  std::vector<std::string> warnings;   // beyond swept travel, beyond the calibrated force ...
};

// ERRORS: fit_not_usable for a model marked so; input_out_of_range for a pressure over the fork's
// limit, or for spacers that leave no volume.
protocol::Result<Prediction> predict(const FittedModel& model, const PredictionRequest& request);

// The slow spring alone at one setting: cheap, for solving for a pressure. Travel ascending, in
// metres.
protocol::Result<std::vector<double>> slow_spring_N(const FittedModel& model,
                                                    const PredictionRequest& request,
                                                    const std::vector<double>& travel_m);

}  // namespace fitting
