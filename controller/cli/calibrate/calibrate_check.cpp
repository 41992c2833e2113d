#include "controller/cli/calibrate/calibrate_check.hpp"

#include <fmt/ostream.h>

#include <CLI/CLI.hpp>
#include <cmath>
#include <optional>
#include <string>
#include <vector>

#include "calibration/certificate.hpp"
#include "calibration/control_chart.hpp"
#include "calibration/distributions.hpp"
#include "controller/cli/bench/bench_setup.hpp"
#include "controller/cli/calibrate/check_figure.hpp"
#include "controller/cli/calibrate/check_history.hpp"
#include "controller/cli/calibrate/check_reading.hpp"
#include "controller/cli/options.hpp"
#include "controller/cli/safety_words.hpp"
#include "controller/cli/workshop/identity.hpp"
#include "controller/cli/workshop/workshop.hpp"
#include "protocol/record/json_fields.hpp"

namespace controller::cli {
namespace {

using calibration::Calibration;
using calibration::Estimate;
using protocol::Errc;
using protocol::Error;
using protocol::Json;
using protocol::Result;

struct CheckOptions {
  std::string certificate;
  MassOrForce load;
  std::optional<double> counts;  // empty: from the rig
  std::optional<double> zero_counts;
  std::optional<double> gravity_m_s2;
  std::string rig;
  std::string history;
  std::string chart;
  std::string operator_name;
  bool json = false;
};

struct KnownLoad {
  double force_N = 0.0;
  double relative_doubt = 0.0;  // of gravity, where it is not known
};

KnownLoad known_load(const CheckOptions& options, const Calibration& calibration) {
  if (options.load.force_N) return {*options.load.force_N, 0.0};
  calibration::DeadWeightConditions conditions = calibration.conditions;
  if (options.gravity_m_s2) conditions.gravity_m_s2 = options.gravity_m_s2;
  return {calibration::dead_weight_N(options.load.mass_kg.value(), conditions),
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

// Of readings that are there.
Verdict compare(const CheckOptions& options, const Calibration& calibration) {
  const KnownLoad load = known_load(options, calibration);
  const double counts = options.counts.value();
  Verdict verdict;
  verdict.load_N = load.force_N;
  verdict.measured = options.zero_counts
                         ? calibration.estimate_from_zero(counts, *options.zero_counts)
                         : calibration.estimate(counts);
  verdict.coverage_factor =
      calibration::student_factor(0.95, calibration.quality.degrees_of_freedom);
  verdict.expanded_uncertainty_N =
      verdict.coverage_factor *
      std::hypot(verdict.measured.standard_uncertainty, load.relative_doubt * load.force_N);
  return verdict;
}

// What this check adds to those before it.
struct Charted {
  std::string history;  // the file, empty: none is kept
  calibration::ControlChart chart;
};

Json limits_json(const calibration::ControlChart& chart) {
  if (!chart.limits) return nullptr;
  return {{"centre_N", chart.limits->centre},
          {"lower_N", chart.limits->lower},
          {"upper_N", chart.limits->upper},
          {"checks", chart.limits->points}};
}

Json verdict_json(const Verdict& verdict, const Calibration& calibration, const Charted& charted,
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
          {"history", charted.history.empty() ? Json(nullptr) : Json(charted.history)},
          {"checks_charted", charted.chart.points.size()},
          {"control_limits", limits_json(charted.chart)},
          {"signal", signal_sentence(charted.chart)},
          {"warnings", warnings}};
}

std::string verdict_text(const Verdict& verdict) {
  const std::string difference =
      fmt::format("{:+.2f} N, where -+{:.2f} N are expected (95 %)", verdict.difference_N(),
                  verdict.expanded_uncertainty_N);
  std::string text = fmt::format("Load {:.2f} N, measured {:.2f} N: {}.\n", verdict.load_N,
                                 verdict.measured.value, difference);
  text += verdict.within() ? "Within the expected interval.\n"
                           : "OUTSIDE the expected interval of the certificate.\n";
  return text;
}

std::string chart_text(const Charted& charted) {
  if (charted.history.empty()) return {};
  const calibration::ControlChart& chart = charted.chart;
  std::string text = fmt::format("Kept in {}, {} of this weight and certificate", charted.history,
                                 chart.points.size());
  if (!chart.limits) {
    return text + fmt::format("; control limits follow once {} went before.\n",
                              calibration::kControlPointsMin);
  }
  return text + fmt::format("; control limits {:+.2f} to {:+.2f} N about {:+.2f} N.\n",
                            chart.limits->lower, chart.limits->upper, chart.limits->centre);
}

// --history, else that of the workshop; outside a workshop nothing is kept unless it is said where.
std::string history_path(const CheckOptions& options) {
  if (!options.history.empty()) return options.history;
  const std::optional<std::filesystem::path> workshop = find_workshop(".");
  return workshop ? (*workshop / "calibrations" / "checks.csv").string() : std::string();
}

calibration::ControlPoint point_of(const CheckOptions& options, const Calibration& calibration,
                                   const Verdict& verdict) {
  return {utc_now(),
          calibration.id,
          calibration.particulars.cell_id,
          verdict.load_N,
          verdict.measured.value,
          verdict.expanded_uncertainty_N,
          options.operator_name};
}

// Reads what was kept before, keeps this check, and judges it among them.
Result<Charted> keep_check(const CheckOptions& options, const Calibration& calibration,
                           const Verdict& verdict, std::vector<std::string>& warnings) {
  Charted charted{history_path(options), {}};
  calibration::CheckHistory kept;
  if (!charted.history.empty()) {
    Result<calibration::CheckHistory> loaded = load_check_history(charted.history);
    if (!loaded) return loaded.error();
    kept = *std::move(loaded);
    warnings.insert(warnings.end(), kept.warnings.begin(), kept.warnings.end());
  }
  kept.points.push_back(point_of(options, calibration, verdict));
  if (!charted.history.empty()) {
    const Result<void> added = append_check(charted.history, kept.points.back());
    if (!added) return added.error();
  }
  // One reading scatters by this much whatever the chart says.
  charted.chart =
      calibration::make_control_chart(kept.points, calibration.quality.residual_standard_deviation);
  return charted;
}

Result<Calibration> load_force_certificate(const CheckOptions& options,
                                           std::vector<std::string>& warnings) {
  auto loaded = calibration::load_certificate(options.certificate, today());
  if (!loaded) return loaded.error();
  if (loaded->calibration.kind != calibration::Kind::force) {
    return Error{
        Errc::calibration_unusable,
        fmt::format("{}: this is a {} calibration; a known load checks a force "
                    "calibration.",
                    options.certificate, calibration::kind_name(loaded->calibration.kind))};
  }
  const Result<void> fits = check_mounted_cell(loaded->calibration, options.certificate);
  if (!fits) return fits.error();
  warnings = loaded->warnings;
  return std::move(loaded->calibration);
}

// A check outside its limits is an answer and a refusal: what is measured now is not to be trusted.
Result<void> refusal(const calibration::ControlChart& chart, const std::string& certificate) {
  const calibration::ControlSignal signal = chart.newest();
  if (signal != calibration::ControlSignal::beyond_certificate &&
      signal != calibration::ControlSignal::beyond_limits) {
    return {};
  }
  return Error{Errc::calibration_unusable,
               fmt::format("{}: {}.", certificate, signal_sentence(chart))};
}

// Readings that were not said come from the rig.
Result<void> read_what_was_not_said(CheckOptions& options, const Calibration& calibration,
                                    Console& console) {
  if (options.counts) return {};
  const Result<CheckReading> read =
      read_check(options.rig, options.certificate, known_load(options, calibration).force_N,
                 options.load.words, console);
  if (!read) return read.error();
  options.counts = read->counts;
  if (!options.zero_counts) options.zero_counts = read->zero_counts;
  return {};
}

Result<void> run_check(const CheckOptions& said, Console& console) {
  std::vector<std::string> warnings;
  CheckOptions options = said;
  const Result<Calibration> calibration = load_force_certificate(options, warnings);
  if (!calibration) return calibration.error();
  const Result<void> read = read_what_was_not_said(options, *calibration, console);
  if (!read) return read.error();
  const Verdict verdict = compare(options, *calibration);
  if (verdict.measured.is_beyond_range()) {
    warnings.push_back(
        fmt::format("{:.1f} N lies {:.1f} N beyond the calibrated range of {:.1f} to {:.1f} N.",
                    verdict.measured.value, verdict.measured.beyond_range, calibration->range_low,
                    calibration->range_high));
  }
  const Result<Charted> charted = keep_check(options, *calibration, verdict, warnings);
  if (!charted) return charted.error();
  if (charted->chart.newest() == calibration::ControlSignal::one_side) {
    warnings.push_back(signal_sentence(charted->chart) + ".");
  }
  for (const std::string& warning : warnings) fmt::print(console.err, "Warning: {}\n", warning);
  if (options.json) {
    const Json json = verdict_json(verdict, *calibration, *charted, warnings);
    fmt::print(console.out, "{}", protocol::json_text(json));
  } else {
    fmt::print(console.out, "{}{}", verdict_text(verdict), chart_text(*charted));
  }
  if (!options.chart.empty()) {
    protocol::DiskFileSystem disk;
    const Result<void> drawn = write_check_figure(disk, charted->chart, options.chart);
    if (!drawn) return drawn.error();
  }
  return refusal(charted->chart, options.certificate);
}

}  // namespace

void add_calibrate_check(Commands& commands, CLI::App& group) {
  auto [app, options] = commands.add<CheckOptions>(
      "check", "Compare one known load with a certificate.", run_check, &group);
  app.add_option("certificate", options.certificate, "The force certificate")
      ->required()
      ->type_name("CERT.json");
  add_mass_or_force(app, "--load", options.load, "The known load, as a force or a mass")
      .required()
      ->type_name("\"N N\"");
  app.add_option("--counts", options.counts,
                 "What the cell reads under it (not said: the rig is read)");
  app.add_option("--rig", options.rig, "The rig to read (not said: of bench.toml)")
      ->type_name("PORT");
  app.add_option("--zero-counts", options.zero_counts,
                 "What the unloaded cell reads today, to take its drift off");
  app.add_option("--gravity-m-s2", options.gravity_m_s2,
                 "Local gravity, for a mass (not said: the certificate's)");
  app.add_option("--operator", options.operator_name, "Who checks");
  app.add_option("--history", options.history,
                 "Where checks are kept (not said: calibrations/checks.csv of the workshop)")
      ->type_name("FILE.csv");
  app.add_option("--chart", options.chart, "The control chart to draw; never overwritten")
      ->type_name("FILE.svg");
  add_json(app, options.json);
  add_examples(app, {"springwright calibrate check calibrations/force.json --load \"200 N\" "
                     "--counts 28004",
                     "springwright calibrate check calibrations/force.json --load \"20 kg\" "
                     "--counts 27706 --zero-counts 12013",
                     "springwright calibrate check calibrations/force.json --load \"20 kg\" "
                     "--rig /dev/ttyUSB0 --chart checks.svg"});
  app.footer(app.get_footer() + "\n\n" + kSafetyWords);
}

}  // namespace controller::cli
