#include "fitting/compare/side.hpp"

#include <fmt/core.h>

#include <algorithm>

#include "fitting/compare/interpolate.hpp"
#include "fitting/compare/mounts.hpp"

namespace fitting {
namespace {

std::string rig_key(const std::string& rig_id) {
  return rig_id.empty() ? "rig without a name" : "rig " + rig_id;
}

std::string force_key(const std::string& certificate_id, const std::string& rig_id) {
  return certificate_id.empty() ? rig_key(rig_id) : "certificate " + certificate_id;
}

// What two forks on one bench have in common; any other doubt belongs to each test alone: the cell
// is zeroed and top-out is found anew every time.
std::string key_of_doubt(const std::string& name, const FitContext& context) {
  if (name == "load_cell_gain") return force_key(context.force_calibration_id, context.rig_id);
  const char* of_the_rig[] = {"pressure_gauge", "travel_scale", "frame_deflection"};
  const bool rigs = std::any_of(std::begin(of_the_rig), std::end(of_the_rig),
                                [&](const char* known) { return name == known; });
  return rigs ? rig_key(context.rig_id) : "";
}

// A certificate's gain moves a curve up; a shift that was stored the other way round means the
// same doubt, but must not act against the other side's.
Eigen::VectorXd upward(const Eigen::VectorXd& shift, const Eigen::VectorXd& curve) {
  return shift.dot(curve) < 0.0 ? Eigen::VectorXd(-shift) : shift;
}

Side side_of(const std::string& name, const FittedModel& model, const Prediction& prediction,
             const std::vector<double>& curve_N, const Eigen::MatrixXd& own_covariance_N2,
             Eigen::VectorXd SharedCurveShift::*shape) {
  Side side;
  side.name = name;
  side.fork = model.fork.name;
  side.travel_m = prediction.travel_m;
  side.midline_N =
      Eigen::Map<const Eigen::VectorXd>(curve_N.data(), static_cast<Eigen::Index>(curve_N.size()));
  side.own_covariance_N2 = own_covariance_N2;
  for (const SharedCurveShift& doubt : prediction.shared) {
    const Eigen::VectorXd& shift = doubt.*shape;
    const std::string key = key_of_doubt(doubt.name, model.context);
    if (key.empty()) {
      side.own_covariance_N2 += shift * shift.transpose();
    } else if (doubt.name == "load_cell_gain") {
      side.shared.push_back({doubt.name, key, upward(shift, side.midline_N)});
    } else {
      side.shared.push_back({doubt.name, key, shift});
    }
  }
  side.fork_travel_m = model.fork.travel_m;
  side.remarks = prediction.warnings;
  return side;
}

}  // namespace

Side side_from_record(const CurveAnswer& answer) {
  const protocol::Metadata& metadata = answer.metadata;
  const protocol::InstrumentDoubt& doubt = metadata.doubt;
  Side side;
  side.name = answer.name;
  side.fork = metadata.fork.name;
  side.travel_m = answer.midline.travel_m;
  side.midline_N = answer.midline.force_N;
  side.own_covariance_N2 = answer.midline.covariance_N2;
  side.own_covariance_N2.array() += doubt.zero_N * doubt.zero_N;
  const Rate rate = local_rate(answer.midline);
  const Eigen::VectorXd moved_N =
      doubt.travel_zero_m *
      Eigen::Map<const Eigen::VectorXd>(rate.rate_N_m.data(), side.midline_N.size());
  side.own_covariance_N2 += moved_N * moved_N.transpose();
  const std::string certificate =
      metadata.force_calibration ? metadata.force_calibration->id : std::string();
  side.shared.push_back({"load_cell_gain", force_key(certificate, metadata.rig_id),
                         doubt.gain_relative * side.midline_N});
  side.fork_travel_m = metadata.fork.travel_m;
  side.remarks = answer.loop.remarks;
  if (!doubt.calibrated) {
    side.remarks.push_back(fmt::format(
        "no certificate: a gain of {:.1f} % and a zero of {:.1f} N are assumed as standard "
        "uncertainties of the load cell",
        100.0 * doubt.gain_relative, doubt.zero_N));
  }
  if (metadata.force_calibration && metadata.force_calibration->range_high > 0.0 &&
      side.midline_N.maxCoeff() > metadata.force_calibration->range_high) {
    side.remarks.push_back(fmt::format("forces above {:.0f} N lie beyond the calibrated range",
                                       metadata.force_calibration->range_high));
  }
  return side;
}

protocol::Result<Side> side_from_records(const std::vector<CurveAnswer>& sweeps) {
  Side side = side_from_record(sweeps.front());
  if (sweeps.size() == 1) return side;
  const protocol::Result<Mountings> mountings = mountings_of(sweeps);
  if (!mountings) return mountings.error();
  const Eigen::MatrixXd to_grid = held_interpolation(side.travel_m, mountings->travel_m);
  // Each sweep's own doubt is about the first one's.
  side.own_covariance_N2 =
      to_grid * side.own_covariance_N2 * to_grid.transpose() / static_cast<double>(sweeps.size());
  for (SharedShift& shared : side.shared) shared.force_N = to_grid * shared.force_N;
  side.travel_m = mountings->travel_m;
  side.midline_N = mountings->mean_N();
  return side;
}

Curve curve_of(const Side& side) {
  Curve curve;
  curve.travel_m = side.travel_m;
  curve.grid_step_m = side.travel_m[1] - side.travel_m[0];
  curve.force_N = side.midline_N;
  curve.covariance_N2 = side.own_covariance_N2;
  for (const SharedShift& shared : side.shared) {
    curve.covariance_N2 += shared.force_N * shared.force_N.transpose();
  }
  return curve;
}

Side side_from_prediction(const std::string& name, const FittedModel& model,
                          const Prediction& prediction) {
  return side_of(name, model, prediction, prediction.midline_N, prediction.own_midline_covariance,
                 &SharedCurveShift::midline_N);
}

Side spring_side_from_prediction(const std::string& name, const FittedModel& model,
                                 const Prediction& prediction) {
  return side_of(name, model, prediction, prediction.spring_N, prediction.own_spring_covariance,
                 &SharedCurveShift::spring_N);
}

}  // namespace fitting
