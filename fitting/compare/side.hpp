// One of two curves to be compared: a midline with its doubt, kept apart by what it shares with
// others.
//
// The doubt of A - B is not that of two strangers: one certificate is behind both forces, so its
// gain acts on the difference alone. A shared doubt therefore keeps its shape (the curve's move for
// one standard uncertainty) and a key that says what is shared; equal keys act together. Everything
// else is the side's own. The half-loop is a property of the fork and never a doubt.
#pragma once

#include <Eigen/Core>
#include <string>
#include <vector>

#include "fitting/curve/curve_json.hpp"
#include "fitting/model/predict.hpp"

namespace fitting {

struct SharedShift {
  std::string name;         // load_cell_gain
  std::string key;          // "certificate 5f3a...", "rig bench-1"
  Eigen::VectorXd force_N;  // M x 1
};

struct Side {
  std::string name;              // what the user called it
  std::string fork;              // the fork's own name
  std::vector<double> travel_m;  // ascending, M points
  Eigen::VectorXd midline_N;
  Eigen::MatrixXd own_covariance_N2;  // M x M
  std::vector<SharedShift> shared;
  double fork_travel_m = 0.0;
  std::vector<std::string> remarks;
};

// A record as tested: the midline's noise and scatter, the load cell's gain (shared by certificate,
// else by rig, and rigs without a name count as one), its zero and the travel zero. The gauge is
// left out: as tested is as tested. ERRORS: as answer_curve.
Side side_from_record(const CurveAnswer& answer);

// The mean over mountings, and within them over sweeps, of one setting. What the sweeps do not
// share averages out; the scatter of mountings is not in here (mounts.hpp). REQUIRES: not empty.
// ERRORS: as mountings_of.
protocol::Result<Side> side_from_records(const std::vector<CurveAnswer>& sweeps);

// The midline with all of its doubt, shared or not, in one covariance. REQUIRES: evenly spaced
// travels.
Curve curve_of(const Side& side);

// A model at a setting: the predicted midline of the settled cycle.
Side side_from_prediction(const std::string& name, const FittedModel& model,
                          const Prediction& prediction);

// The slow spring instead, for those who ask at rest.
Side spring_side_from_prediction(const std::string& name, const FittedModel& model,
                                 const Prediction& prediction);

}  // namespace fitting
