// `springwright calibrate force|travel|frame`: readings beside a standard become a certificate.
#include "calibration/calibrate.hpp"

#include <fmt/ostream.h>

#include <CLI/CLI.hpp>
#include <string>

#include "calibration/certificate.hpp"
#include "calibration/readings_file.hpp"
#include "controller/cli/calibrate_check.hpp"
#include "controller/cli/calibrate_options.hpp"
#include "controller/cli/calibrate_recompute.hpp"
#include "controller/cli/calibrate_show.hpp"
#include "controller/cli/calibrate_text.hpp"
#include "controller/cli/commands.hpp"
#include "controller/cli/options.hpp"
#include "controller/cli/safety_words.hpp"

namespace controller::cli {
namespace {

using calibration::Calibration;
using calibration::Kind;
using calibration::ReadingSet;
using protocol::Result;

Result<void> run_calibrate(const CalibrateOptions& options, Console& console) {
  Result<ReadingSet> set = calibration::load_readings(options.readings, options.kind);
  if (!set) return set.error();
  std::vector<std::string> warnings;
  const Result<void> completed = complete_readings(*set, options, warnings);
  if (!completed) return completed.error();
  for (const std::string& expired : calibration::expired_standards(set->particulars)) {
    warnings.push_back(expired);
  }
  for (const std::string& warning : warnings) fmt::print(console.err, "Warning: {}\n", warning);
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

void add_kind(Commands& commands, CLI::App& group, Kind kind, const std::string& summary,
              const std::vector<std::string>& examples) {
  const std::string name{calibration::kind_name(kind)};
  auto [app, options] = commands.add<CalibrateOptions>(name, summary, run_calibrate, &group);
  options.kind = kind;
  app.add_option("readings", options.readings, "Readings, as .toml or .csv")->required();
  app.add_option("--out", options.out, "The certificate to write; never overwritten")
      ->required()
      ->type_name("CERT.json");
  app.add_option("--degree", options.degree,
                 "Degree of the curve, 1 to 3 (not said: the lowest that follows the loads)")
      ->check(CLI::Range(1, calibration::kDegreeMax));
  add_particulars(app, options);
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
            "--latitude \"47 deg\" --altitude \"400 m\" --weight-class M1 "
            "--valid-until 2027-11-25 --operator \"R. Fell\""});
  add_kind(commands, group, Kind::travel,
           "Screw: steps to millimetres, from gauge blocks or a dial indicator.",
           {"springwright calibrate travel blocks.csv --out calibrations/travel.json"});
  add_kind(commands, group, Kind::frame,
           "Frame: its deflection under force, with a rigid block in the fork's place.",
           {"springwright calibrate frame rigid_block.csv --out calibrations/frame.json"});
  add_calibrate_show(commands, group);
  add_calibrate_check(commands, group);
  add_calibrate_recompute(commands, group);
}

}  // namespace controller::cli
