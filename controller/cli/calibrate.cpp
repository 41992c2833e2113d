// `springwright calibrate force|travel|frame`: readings beside a standard become a certificate.
#include "calibration/calibrate.hpp"

#include <fmt/ostream.h>

#include <CLI/CLI.hpp>
#include <filesystem>
#include <optional>
#include <string>

#include "calibration/certificate.hpp"
#include "calibration/gravity.hpp"
#include "calibration/readings_file.hpp"
#include "controller/cli/calibrate_check.hpp"
#include "controller/cli/calibrate_recompute.hpp"
#include "controller/cli/calibrate_text.hpp"
#include "controller/cli/commands.hpp"
#include "controller/cli/identity.hpp"
#include "controller/cli/options.hpp"
#include "controller/cli/safety_words.hpp"
#include "controller/cli/workshop.hpp"
#include "protocol/record/bench_file.hpp"

namespace controller::cli {
namespace {

using calibration::Calibration;
using calibration::Kind;
using calibration::ReadingSet;
using protocol::Result;

struct CalibrateOptions {
  Kind kind = Kind::force;
  std::string readings;
  std::string out;
  int degree = 1;
  calibration::Particulars particulars;  // empty: as the file says
  calibration::DeadWeightConditions conditions;
  calibration::Standard standard;
  bool json = false;
};

void take(std::string& target, const std::string& said) {
  if (!said.empty()) target = said;
}

// What is said on the command line wins over the file.
void override_particulars(ReadingSet& set, const CalibrateOptions& options) {
  take(set.particulars.rig_id, options.particulars.rig_id);
  take(set.particulars.cell_id, options.particulars.cell_id);
  take(set.particulars.operator_name, options.particulars.operator_name);
  take(set.particulars.date, options.particulars.date);
  take(set.particulars.valid_until, options.particulars.valid_until);
  if (options.conditions.gravity_m_s2) {
    set.conditions.gravity_m_s2 = options.conditions.gravity_m_s2;
  }
  if (options.conditions.air_density_kg_m3) {
    set.conditions.air_density_kg_m3 = options.conditions.air_density_kg_m3;
  }
  const calibration::Standard& standard = options.standard;
  if (!standard.name.empty() || !standard.certificate.empty() ||
      standard.relative_standard_uncertainty) {
    set.particulars.standards = {standard};
  }
  if (set.particulars.date.empty()) set.particulars.date = utc_now().substr(0, 10);
}

// What neither the file nor the command line says, the workshop's bench may.
Result<void> fill_from_bench(ReadingSet& set) {
  const std::optional<std::filesystem::path> workshop = find_workshop(".");
  if (!workshop) return {};
  const Result<protocol::Bench> bench = protocol::load_bench(*workshop / "bench.toml");
  if (!bench) return bench.error();
  if (set.particulars.rig_id.empty()) set.particulars.rig_id = bench->rig_id;
  std::optional<double>& gravity_m_s2 = set.conditions.gravity_m_s2;
  if (!gravity_m_s2) gravity_m_s2 = bench->gravity_m_s2;
  if (!gravity_m_s2 && bench->latitude_rad) {
    gravity_m_s2 =
        calibration::local_gravity_m_s2(*bench->latitude_rad, bench->altitude_m.value_or(0.0));
  }
  return {};
}

Result<void> run_calibrate(const CalibrateOptions& options, Console& console) {
  Result<ReadingSet> set = calibration::load_readings(options.readings, options.kind);
  if (!set) return set.error();
  override_particulars(*set, options);
  if (const Result<void> filled = fill_from_bench(*set); !filled) return filled.error();
  const Result<Calibration> made = calibration::make_calibration(*set, options.degree);
  if (!made) return protocol::at(options.readings, made.error());
  protocol::DiskFileSystem disk;
  const Result<void> saved = calibration::save_certificate(disk, *made, options.out);
  if (!saved) return saved.error();
  if (options.json) {
    fmt::print(console.out, "{}", protocol::json_text(calibration_json(*made, options.out)));
  } else {
    fmt::print(console.out, "{}Written: {}\n", calibration_text(*made), options.out);
  }
  return {};
}

void add_particulars(CLI::App& app, CalibrateOptions& options) {
  app.add_option("--operator", options.particulars.operator_name, "Who calibrates");
  app.add_option("--rig", options.particulars.rig_id, "Which rig");
  app.add_option("--cell", options.particulars.cell_id, "Which load cell, screw or frame");
  app.add_option("--date", options.particulars.date, "Day of the readings (default: today)")
      ->type_name("YYYY-MM-DD");
  app.add_option("--valid-until", options.particulars.valid_until, "Last day of use")
      ->type_name("YYYY-MM-DD");
  app.add_option("--standard", options.standard.name, "The standard: weights, transducer, blocks");
  app.add_option("--standard-certificate", options.standard.certificate, "Its certificate");
  add_quantity(app, "--standard-uncertainty", protocol::Dimension::fraction,
               options.standard.relative_standard_uncertainty,
               "Its relative standard uncertainty, k = 1 (not said: 0.1 % is assumed)");
}

void add_kind(Commands& commands, CLI::App& group, Kind kind, const std::string& summary,
              const std::vector<std::string>& examples) {
  const std::string name{calibration::kind_name(kind)};
  auto [app, options] = commands.add<CalibrateOptions>(name, summary, run_calibrate, &group);
  options.kind = kind;
  app.add_option("readings", options.readings, "Readings, as .toml or .csv")->required();
  app.add_option("--out", options.out, "The certificate to write; never overwritten")
      ->required()
      ->type_name("CERT.json");
  if (kind != Kind::frame) {
    app.add_option("--degree", options.degree, "Degree of the curve, 1 to 3 (default 1)")
        ->check(CLI::Range(1, calibration::kDegreeMax));
  }
  add_particulars(app, options);
  if (kind == Kind::force) {
    app.add_option(
        "--gravity-m-s2", options.conditions.gravity_m_s2,
        "Local gravity, for weights (not said: of bench.toml, else 9.80665 with 0.15 % in "
        "doubt)");
    app.add_option("--air-density-kg-m3", options.conditions.air_density_kg_m3,
                   "Density of the air, for the weights' buoyancy (not said: none)");
  }
  add_json(app, options.json);
  add_examples(app, examples);
  app.footer(app.get_footer() + "\n\n" + kSafetyWords);
}

}  // namespace

void add_calibrate(Commands& commands) {
  CLI::App& group = commands.add_group(
      "calibrate", "Turn readings beside a standard into a certificate, or check one.");
  group.footer(kSafetyWords);
  add_kind(commands, group, Kind::force,
           "Load cell: counts to newtons, from dead weights or a reference transducer.",
           {"springwright calibrate force weights.toml --out calibrations/force.json",
            "springwright calibrate force weights.csv --out calibrations/force.json "
            "--gravity-m-s2 9.8123 --valid-until 2027-11-25 --operator \"R. Fell\""});
  add_kind(commands, group, Kind::travel,
           "Screw: steps to millimetres, from gauge blocks or a dial indicator.",
           {"springwright calibrate travel blocks.csv --out calibrations/travel.json"});
  add_kind(commands, group, Kind::frame,
           "Frame: its deflection under force, with a rigid block in the fork's place.",
           {"springwright calibrate frame rigid_block.csv --out calibrations/frame.json"});
  add_calibrate_check(commands, group);
  add_calibrate_recompute(commands, group);
}

}  // namespace controller::cli
