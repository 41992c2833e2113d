// What a fit leaves behind, and what a prediction needs: parameters, their doubt, and the fork they
// belong to. A plain value; reading and writing it as JSON is model_json.hpp's work.
//
// The doubt is kept in two parts, since two forks measured on one rig share some of it:
//   total covariance = own covariance + sum over shared doubts k of shift_k shift_k^T
// where shift_k is the move of the parameters for one standard uncertainty of doubt k (load cell
// gain, pressure gauge, travel zero ...), which the fit carries through and never reduces.
#pragma once

#include <Eigen/Core>
#include <optional>
#include <string>
#include <vector>

#include "fitting/model/law_parameters.hpp"
#include "protocol/record/sweep_record.hpp"

namespace fitting {

// The state that thermal_time is stated at: full extension, no spacers, this pressure and
// temperature.
struct ThermalReference {
  double pressure_Pa = 8e5;  // absolute
  double temperature_K = 293.15;
};

// How the gas exchanges heat, or an effective exponent where there was no clock.
enum class GasLaw { wall_coefficient, constant_time, exponent };

enum class ParameterStatus { fitted, given, not_determined, at_bound };

// Where the profile likelihood ends, the other parameters fitted anew at every value. An end that
// it does not find is open: the data do not bound the parameter there.
struct ProfileInterval {
  double confidence = 0.95;
  std::optional<double> low;  // in the parameter's unit
  std::optional<double> high;
};

struct FittedParameter {
  std::string name;    // positive_volume, friction ...
  std::string unit;    // of value as printed: cm3, N, mm, s, 1
  double value = 0.0;  // as printed, in unit; the best guess even where not determined
  double standard_uncertainty = 0.0;
  double statistical_uncertainty = 0.0;
  ParameterStatus status = ParameterStatus::fitted;
  std::string sweep;   // for a value of one sweep alone
  std::string reason;  // why it is not determined, or where a given value comes from
  std::optional<ProfileInterval> profile = {};
};

// One doubt that the fit carries through: the shift of the free parameters for one standard
// uncertainty.
struct SharedDoubt {
  std::string name;                   // load_cell_gain, pressure_gauge, travel_zero, ...
  double standard_uncertainty = 0.0;  // relative, Pa, m or N by its kind
  bool across_forks = true;           // false: of this fork alone
  Eigen::VectorXd shift;              // P x 1, in the units of the parameters
};

// What the fitted sweeps had in common, and where predictions start from.
struct FitContext {
  double mean_pressure_gauge_Pa = 0.0;
  double mean_speed_m_s = 0.0;
  double temperature_K = 293.15;
  double ambient_pressure_Pa = protocol::kStandardAtmosphere_Pa;
  protocol::Vent vent;
  double swept_travel_m = 0.0;      // the largest
  double largest_force_N = 0.0;     // the largest measured
  double gauge_reading_Pa = 0.0;    // standard uncertainty of one reading
  double calibrated_force_N = 0.0;  // end of the calibrated range, 0: not calibrated
  std::string rig_id;
  std::string force_calibration_id;
  std::vector<std::string> record_ids;
};

// One form of the law that was tried, for the table of the choice.
struct LawTried {
  GasLaw law = GasLaw::wall_coefficient;
  std::string elements;  // what it has beside the usual, or lacks; empty: nothing
  int parameters = 0;    // free ones
  double structured_residual_N = 0.0;
  double criterion = 0.0;  // information criterion above the best form's; 0 for the chosen one
};

// A stretch of travel where the model and a record disagree by more than chance and the model's
// known error would.
struct Misfit {
  double from_m = 0.0;
  double to_m = 0.0;
  std::string sweep;          // record id; empty: in all of them
  int direction = 0;          // +1 compression, -1 rebound, 0 both
  int stroke = -1;            // from this stroke on; -1: in all
  double size_N = 0.0;        // measured less model, mean over the stretch
  double significance = 0.0;  // standard deviations
  std::string text;
};

// What resampling whole strokes makes of the parameters, beside the covariance.
struct BootstrapResult {
  int replicates = 0;
  int strokes = 0;
  std::string refused;                       // why there is none; empty: there is
  std::vector<double> standard_uncertainty;  // of the P free parameters, in their units
};

struct FittedModel {
  protocol::Fork fork;
  GasLaw law = GasLaw::wall_coefficient;
  LawParameters<double> law_values{};  // all of them, SI, free or not
  std::vector<LawIndex> free;          // the P free ones, in the order of the covariance
  ThermalReference reference;
  std::vector<FittedParameter> parameters;  // for reading; the P free ones first, in the same order
  Eigen::MatrixXd own_covariance;           // P x P, of the first P parameters, in their units
  Eigen::MatrixXd statistical_covariance;   // P x P
  std::vector<SharedDoubt> shared;
  FitContext context;
  double rms_residual_N = 0.0;
  double structured_residual_N = 0.0;  // rms of what is left after averaging the noise away
  std::size_t samples = 0;
  std::vector<LawTried> laws_tried;
  Eigen::VectorXd singular_values;  // P x 1, of the Jacobian with columns of length one
  std::vector<Misfit> misfits;
  std::optional<BootstrapResult> bootstrap;
  std::size_t spikes = 0;  // rows left out as lone outliers
  bool usable = false;
  std::vector<std::string> warnings;
};

}  // namespace fitting
