#include "controller/cli/calibrate_check.hpp"

#include <fmt/ostream.h>

#include <CLI/CLI.hpp>
#include <cmath>
#include <optional>
#include <string>
#include <vector>

#include "calibration/certificate.hpp"
#include "calibration/distributions.hpp"
#include "controller/cli/bench_setup.hpp"
#include "controller/cli/identity.hpp"
#include "controller/cli/options.hpp"
#include "controller/cli/safety_words.hpp"
#include "protocol/record/json_fields.hpp"

namespace controller::cli {
namespace {

using calibration::Calibration;
using calibration::Estimate;
using protocol::Dimension;
using protocol::Errc;
using protocol::Error;
using protocol::Json;
using protocol::Result;

struct CheckOptions {
  std::string certificate;
  std::optional<double> load_N;
  std::optional<double> load_kg;
  double counts = 0.0;
  std::optional<double> zero_counts;
  std::optional<double> gravity_m_s2;
  bool json = false;
};

struct KnownLoad {
  double force_N = 0.0;
  double relative_doubt = 0.0;  // of gravity, where it is not known
};

KnownLoad known_load(const CheckOptions& options, const Calibration& calibration) {
  if (options.load_N) return {*options.load_N, 0.0};
  calibration::DeadWeightConditions conditions = calibration.conditions;
  if (options.gravity_m_s2) conditions.gravity_m_s2 = options.gravity_m_s2;
  return {calibration::dead_weight_N(options.load_kg.value(), conditions),
          conditions.gravity_m_s2 ? 0.0 : calibration::kUnstatedGravityRelative};
}

struct Verdict {
  double load_N = 0.0;
  Estimate measured;
  double coverage_factor = 0.0;
  double expanded_uncertainty_N = 0.0;
  double difference_N() const { return measured.value - load_N; }
  bool within() const { return std::abs(difference_N()) <= expanded_uncertainty_N; }
};

Verdict compare(const CheckOptions& options, const Calibration& calibration) {
  const KnownLoad load = known_load(options, calibration);
  Verdict verdict;
  verdict.load_N = load.force_N;
  verdict.measured = options.zero_counts
                         ? calibration.estimate_from_zero(options.counts, *options.zero_counts)
                         : calibration.estimate(options.counts);
  verdict.coverage_factor =
      calibration::student_factor(0.95, calibration.quality.degrees_of_freedom);
  verdict.expanded_uncertainty_N =
      verdict.coverage_factor *
      std::hypot(verdict.measured.standard_uncertainty, load.relative_doubt * load.force_N);
  return verdict;
}

Json verdict_json(const Verdict& verdict, const Calibration& calibration,
                  const std::vector<std::string>& warnings) {
  return {{"certificate_id", calibration.id},
          {"load_N", verdict.load_N},
          {"measured_N", verdict.measured.value},
          {"difference_N", verdict.difference_N()},
          {"standard_uncertainty_N", verdict.measured.standard_uncertainty},
          {"coverage_factor", verdict.coverage_factor},
          {"expanded_uncertainty_N", verdict.expanded_uncertainty_N},
          {"within", verdict.within()},
          {"beyond_range_N", verdict.measured.beyond_range},
          {"warnings", warnings}};
}

std::string verdict_text(const Verdict& verdict) {
  const std::string difference =
      fmt::format("{:+.2f} N, where -+{:.2f} N are expected (95 %)", verdict.difference_N(),
                  verdict.expanded_uncertainty_N);
  std::string text = fmt::format("Load {:.2f} N, measured {:.2f} N: {}.\n", verdict.load_N,
                                 verdict.measured.value, difference);
  text += verdict.within()
              ? "Within the expected interval.\n"
              : "OUTSIDE the expected interval: check zero, mounting and wiring, then calibrate "
                "again.\n";
  return text;
}

Result<void> run_check(const CheckOptions& options, Console& console) {
  const auto loaded = calibration::load_certificate(options.certificate, utc_now().substr(0, 10));
  if (!loaded) return loaded.error();
  const Calibration& calibration = loaded->calibration;
  if (calibration.kind != calibration::Kind::force) {
    return Error{Errc::calibration_unusable,
                 fmt::format("{}: this is a {} calibration; a known load checks a force "
                             "calibration.",
                             options.certificate, calibration::kind_name(calibration.kind))};
  }
  const Result<void> fits = check_mounted_cell(calibration, options.certificate);
  if (!fits) return fits.error();
  const Verdict verdict = compare(options, calibration);
  std::vector<std::string> warnings = loaded->warnings;
  if (verdict.measured.is_beyond_range()) {
    warnings.push_back(
        fmt::format("{:.1f} N lies {:.1f} N beyond the calibrated range of {:.1f} to {:.1f} N.",
                    verdict.measured.value, verdict.measured.beyond_range, calibration.range_low,
                    calibration.range_high));
  }
  for (const std::string& warning : warnings) fmt::print(console.err, "Warning: {}\n", warning);
  if (options.json) {
    const Json json = verdict_json(verdict, calibration, warnings);
    fmt::print(console.out, "{}", protocol::json_text(json));
  } else {
    fmt::print(console.out, "{}", verdict_text(verdict));
  }
  return {};
}

// A force, or a mass that gravity turns into one.
void read_load(CheckOptions& options, const std::string& text) {
  const Result<double> mass = protocol::parse_quantity(text, Dimension::mass);
  if (mass) {
    options.load_kg = *mass;
    return;
  }
  const Result<double> force = protocol::parse_quantity(text, Dimension::force);
  if (!force) throw CLI::ValidationError("--load", force.error().message);
  options.load_N = *force;
}

}  // namespace

void add_calibrate_check(Commands& commands, CLI::App& group) {
  auto [app, options] = commands.add<CheckOptions>(
      "check", "Compare one known load with a certificate.", run_check, &group);
  CheckOptions& target = options;
  app.add_option("certificate", options.certificate, "The force certificate")->required();
  app.add_option_function<std::string>(
         "--load", [&target](const std::string& text) { read_load(target, text); },
         "The known load, as a force or a mass")
      ->required()
      ->type_name("\"N N\"");
  app.add_option("--counts", options.counts, "What the cell reads under it")->required();
  app.add_option("--zero-counts", options.zero_counts,
                 "What the unloaded cell reads today, to take its drift off");
  app.add_option("--gravity-m-s2", options.gravity_m_s2,
                 "Local gravity, for a mass (not said: the certificate's)");
  add_json(app, options.json);
  add_examples(app, {"springwright calibrate check calibrations/force.json --load \"200 N\" "
                     "--counts 28004",
                     "springwright calibrate check calibrations/force.json --load \"20 kg\" "
                     "--counts 27706 --zero-counts 12013"});
  app.footer(app.get_footer() + "\n\n" + kSafetyWords);
}

}  // namespace controller::cli
