#include "tests/fitting/report_sample.hpp"

#include <cmath>
#include <random>

#include "fitting/report/numbers.hpp"
#include "protocol/units.hpp"

namespace tests {
namespace {

using namespace fitting;

constexpr double kAmbient_Pa = protocol::kStandardAtmosphere_Pa;
constexpr double kSwept_m = 0.146;
constexpr double kLoad_N = 430.0;

struct SampleFork {
  double piston_m2 = 7.548e-4;
  double negative_m2 = 7.045e-4;
  double lower_m2 = 11.5e-4;
  double positive_m3 = 205e-6;
  double negative_m3 = 33e-6;
  double lower_m3 = 390e-6;
  double spacer_m3 = 7e-6;
  double transfer_m = 0.0025;
  double preload_N = 14.0;
  double friction_N = 15.0;
  double heat_N = 12.0;
};

const SampleFork kLarch{};
const SampleFork kBasalt{8.04e-4, 7.50e-4, 12.5e-4, 236e-6, 52e-6, 350e-6,
                         9e-6,    0.004,   6.0,     21.0,   9.0};

struct Parts {
  double positive_N;
  double negative_N;
  double lower_N;
  double preload_N;

  double total_N() const { return positive_N + negative_N + lower_N + preload_N; }
};

Parts parts(const SampleFork& fork, double pressure_gauge_Pa, int spacers, double x_m) {
  const double volume_m3 = fork.positive_m3 - spacers * fork.spacer_m3;
  const double filled_Pa = pressure_gauge_Pa + kAmbient_Pa;
  const double positive_Pa = filled_Pa * volume_m3 / (volume_m3 - fork.piston_m2 * x_m);
  const double shared_Pa = filled_Pa * volume_m3 / (volume_m3 - fork.piston_m2 * fork.transfer_m);
  const double negative_Pa = shared_Pa * (fork.negative_m3 + fork.negative_m2 * fork.transfer_m) /
                             (fork.negative_m3 + fork.negative_m2 * x_m);
  const double lower_Pa = kAmbient_Pa * fork.lower_m3 / (fork.lower_m3 - fork.lower_m2 * x_m);
  return {(positive_Pa - kAmbient_Pa) * fork.piston_m2,
          -(negative_Pa - kAmbient_Pa) * fork.negative_m2, (lower_Pa - kAmbient_Pa) * fork.lower_m2,
          fork.preload_N};
}

// Half the loop's width on one stroke, friction turned round and heat built up since the reversal.
double half_loop_N(const SampleFork& fork, double since_reversal_m) {
  return fork.friction_N * (1.0 - 2.0 * std::exp(-since_reversal_m / 0.0005)) +
         fork.heat_N * (1.0 - 2.0 * std::exp(-since_reversal_m / 0.012));
}

MeasuredRecord sample_record(const SampleFork& fork, const std::string& fork_name,
                             const std::string& name, double pressure_gauge_Pa, int spacers,
                             unsigned seed) {
  MeasuredRecord measured;
  measured.name = name;
  auto& record = measured.record;
  auto& metadata = record.metadata;
  metadata.record_id = name;
  metadata.fork.name = fork_name;
  metadata.fork.travel_m = 0.160;
  metadata.setting.pressure_gauge_Pa = pressure_gauge_Pa;
  metadata.setting.spacers = spacers;
  metadata.setting.damper_clicks = "open";
  metadata.pressure_after_gauge_Pa = pressure_gauge_Pa - 2000.0;
  metadata.speed_m_s = 0.004;
  metadata.conditioning_cycles = 1;
  metadata.measuring_cycles = 2;
  metadata.rig_id = "bench-1";
  protocol::AppliedCalibration certificate;
  certificate.id = "5f0c91a2b3d45f0c91a2b3d45f0c91a2b3d45f0c91a2b3d45f0c91a2b3d45f0c";
  certificate.coefficients = {0.0, 0.01};
  certificate.range_high = 2000.0;
  certificate.valid_until = "2027-11-01";
  metadata.force_calibration = certificate;
  metadata.doubt.calibrated = true;
  metadata.doubt.gain_relative = 0.0012;
  metadata.doubt.zero_N = 0.4;
  std::mt19937 generator(seed);
  std::normal_distribution<double> noise_N(0.0, 1.5);
  constexpr int kRows = 730;
  double time_s = 0.0;
  for (int stroke = 0; stroke < 6; ++stroke) {
    const double direction = stroke % 2 == 0 ? 1.0 : -1.0;
    for (int i = 0; i <= kRows; ++i) {
      const double share = static_cast<double>(i) / kRows;
      const double x_m = kSwept_m * (direction > 0 ? share : 1.0 - share);
      const double force_N = parts(fork, pressure_gauge_Pa, spacers, x_m).total_N() +
                             direction * half_loop_N(fork, share * kSwept_m);
      record.time_s.push_back(time_s += 0.05);
      record.stroke.push_back(stroke);
      record.travel_m.push_back(x_m);
      record.force_N.push_back(force_N + noise_N(generator) + 1.1 * std::sin(x_m / 0.011));
      measured.simulated_N.push_back(force_N);
    }
  }
  return measured;
}

struct Asked {
  Prediction answer;
  std::optional<Sag> sag;
};

Asked sample_asked(const SampleFork& fork, double pressure_gauge_Pa, int spacers) {
  Asked asked;
  Prediction& answer = asked.answer;
  answer.elements = {
      {"positive chamber", {}}, {"negative chamber", {}}, {"lower legs", {}}, {"preload", {}}};
  for (int i = 0; i <= 292; ++i) {
    const double x_m = 0.0005 * i;
    const Parts each = parts(fork, pressure_gauge_Pa, spacers, x_m);
    const double up_N = half_loop_N(fork, x_m);
    const double down_N = half_loop_N(fork, kSwept_m - x_m);
    answer.travel_m.push_back(x_m);
    answer.spring_N.push_back(each.total_N());
    answer.compression_N.push_back(each.total_N() + up_N);
    answer.rebound_N.push_back(each.total_N() - down_N);
    answer.midline_N.push_back(each.total_N() + 0.5 * (up_N - down_N));
    answer.friction_N.push_back(fork.friction_N);
    answer.elements[0].force_N.push_back(each.positive_N);
    answer.elements[1].force_N.push_back(each.negative_N);
    answer.elements[2].force_N.push_back(each.lower_N);
    answer.elements[3].force_N.push_back(each.preload_N);
  }
  const auto size = static_cast<Eigen::Index>(answer.travel_m.size());
  const auto spring = Eigen::Map<const Eigen::VectorXd>(answer.spring_N.data(), size);
  Eigen::MatrixXd covariance(size, size);
  for (Eigen::Index i = 0; i < size; ++i) {
    for (Eigen::Index j = 0; j < size; ++j) {
      const double apart_m = 0.0005 * static_cast<double>(i - j);
      covariance(i, j) = 4.0 * std::exp(-0.5 * std::pow(apart_m / 0.015, 2));
    }
    covariance(i, i) += 1e-6;
  }
  answer.own_spring_covariance = covariance;
  answer.own_midline_covariance = covariance;
  answer.shared = {{"load_cell_gain", 0.0012 * spring, 0.0012 * spring}};
  for (Eigen::Index i = 0; i < size; ++i) {
    const double total_N = std::hypot(2.0, 0.0012 * spring[i]);
    answer.spring_standard_uncertainty_N.push_back(total_N);
    answer.midline_standard_uncertainty_N.push_back(total_N);
  }
  const auto uncertainty =
      Eigen::Map<const Eigen::VectorXd>(answer.spring_standard_uncertainty_N.data(), size);
  asked.sag = find_sag(answer.travel_m, spring, Eigen::VectorXd::Constant(size, fork.friction_N),
                       uncertainty, kLoad_N);
  return asked;
}

FittedModel sample_model(const SampleFork& fork, const std::string& name) {
  FittedModel model;
  model.fork.name = name;
  model.fork.travel_m = 0.160;
  const auto fitted = ParameterStatus::fitted;
  model.parameters = {
      {"positive_volume", "cm3", 1e6 * fork.positive_m3, 1.9, 0.21, fitted, "", ""},
      {"negative_volume", "cm3", 1e6 * fork.negative_m3, 0.42, 0.06, fitted, "", ""},
      {"lower_leg_volume", "cm3", 0.0, 0.0, 0.0, ParameterStatus::not_determined, "",
       "its part of the force is smaller than its doubt"},
      {"spacer_volume", "cm3", 1e6 * fork.spacer_m3, 0.0, 0.0, ParameterStatus::given, "",
       "fork file"},
      {"preload", "N", fork.preload_N, 3.1, 0.4, fitted, "", ""},
      {"friction", "N", 9.0, 0.9, 0.2, fitted, "", "at zero gauge pressure"},
      {"friction_per_bar", "N/bar", 1.08, 0.17, 0.03, fitted, "", ""},
      {"presliding_travel", "mm", 0.5, 0.06, 0.01, fitted, "", ""},
      {"transfer_travel", "mm", 1e3 * fork.transfer_m, 0.24, 0.05, fitted, "", ""},
      {"piston_diameter", "mm", 31.0, 0.0, 0.0, ParameterStatus::given, "", "fork file"},
      {"thermal_time", "s", 2.71, 0.12, 0.02, fitted, "", ""},
      {"friction_mid_travel", "N", fork.friction_N, 0.8, 0.1, fitted, "", ""},
  };
  model.context.swept_travel_m = kSwept_m;
  model.context.largest_force_N = 1310.0;
  model.context.calibrated_force_N = 2000.0;
  model.context.record_ids = {"1", "2", "3", "4"};
  model.rms_residual_N = 1.72;
  model.structured_residual_N = 0.78;
  model.samples = 17544;
  model.usable = true;
  return model;
}

struct PairSetting {
  double a_Pa;
  int a_spacers;
  double b_Pa;
  int b_spacers;
};

ComparedPair sample_pair(const std::string& id, const std::string& heading, bool slow,
                         const PairSetting& setting, const SampleNames& names) {
  ComparedPair pair;
  pair.id = id;
  pair.heading = heading;
  pair.curves = slow ? "slow springs" : "midlines of settled cycles at 4.0 mm/s";
  pair.setting_a = shown_gauge_pressure(setting.a_Pa) + ", " + shown_spacers(setting.a_spacers);
  pair.setting_b = shown_gauge_pressure(setting.b_Pa) + ", " + shown_spacers(setting.b_spacers);
  const Asked asked_a = sample_asked(kLarch, setting.a_Pa, setting.a_spacers);
  const Asked asked_b = sample_asked(kBasalt, setting.b_Pa, setting.b_spacers);
  pair.answer_a = asked_a.answer;
  pair.answer_b = asked_b.answer;
  pair.sag_a = asked_a.sag;
  pair.sag_b = asked_b.sag;
  const auto side = [&](const std::string& name, const Asked& asked) {
    const Prediction& answer = asked.answer;
    const auto& curve = slow ? answer.spring_N : answer.midline_N;
    Side made;
    made.name = name;
    made.fork = name;
    made.fork_travel_m = 0.160;
    made.travel_m = answer.travel_m;
    made.midline_N =
        Eigen::Map<const Eigen::VectorXd>(curve.data(), static_cast<Eigen::Index>(curve.size()));
    made.own_covariance_N2 = slow ? answer.own_spring_covariance : answer.own_midline_covariance;
    made.shared = {{"load_cell_gain", "certificate 5f0c91a2b3d4", answer.shared[0].spring_N}};
    return made;
  };
  pair.a = side(names.a, asked_a);
  pair.b = side(names.b, asked_b);
  pair.difference = difference_of(pair.a, pair.b).value();
  pair.crossings = find_crossovers(pair.difference);
  pair.spans = find_spans(pair.difference);
  pair.thirds = find_thirds(pair.difference);
  pair.load_N = kLoad_N;
  pair.load_source = "80 kg rider, 14 kg bicycle, 45 % on the front wheel, head angle 65°";
  return pair;
}

}  // namespace

fitting::ComparisonInput sample_comparison(const SampleNames& names) {
  const auto psi = [](double value) { return protocol::from_unit(value, "psi"); };
  ComparisonInput input;
  input.title = names.title;
  input.a = {"a", names.a, sample_model(kLarch, names.a), {}};
  input.b = {"b", names.b, sample_model(kBasalt, names.b), {}};
  unsigned seed = 1;
  for (const double pressure_psi : {81.0, 95.0}) {
    for (const int spacers : {1, 2}) {
      const std::string suffix =
          fitting::rounded(pressure_psi, 0) + "psi-" + std::to_string(spacers);
      input.a.records.push_back(
          sample_record(kLarch, names.a, "larch-" + suffix, psi(pressure_psi), spacers, seed++));
      input.b.records.push_back(
          sample_record(kBasalt, names.b, "basalt-" + suffix, psi(pressure_psi), spacers, seed++));
    }
  }
  input.pairs.push_back(
      sample_pair("matched-sag", "At matched sag", true, {psi(81.0), 1, psi(91.3), 1}, names));
  input.pairs.push_back(
      sample_pair("as-tested", "As tested", false, {psi(81.0), 1, psi(81.0), 1}, names));
  NearestSetting nearest;
  nearest.pressure_gauge_Pa = psi(89.0);
  nearest.spacers = 3;
  nearest.from_m = 0.0073;
  nearest.to_m = 0.1387;
  nearest.rms_as_set_N = 31.2;
  nearest.rms_left_N = 9.7;
  nearest.largest_left_N = -24.1;
  nearest.largest_left_at_m = 0.0081;
  input.nearest = nearest;
  input.program = "springwright 0.1.0";
  input.made = "2026-11-25";
  return input;
}

}  // namespace tests
