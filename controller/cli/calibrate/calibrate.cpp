// `springwright calibrate force|travel|frame`: readings beside a standard become a certificate.
#include "calibration/calibrate.hpp"

#include <fmt/ostream.h>

#include <CLI/CLI.hpp>
#include <string>

#include "calibration/certificate.hpp"
#include "calibration/readings_file.hpp"
#include "controller/cli/calibrate/calibrate_check.hpp"
#include "controller/cli/calibrate/calibrate_guided.hpp"
#include "controller/cli/calibrate/calibrate_options.hpp"
#include "controller/cli/calibrate/calibrate_recompute.hpp"
#include "controller/cli/calibrate/calibrate_show.hpp"
#include "controller/cli/calibrate/calibrate_text.hpp"
#include "controller/cli/calibrate/certificate_page.hpp"
#include "controller/cli/commands.hpp"
#include "controller/cli/options.hpp"
#include "controller/cli/safety_words.hpp"

namespace controller::cli {
namespace {

using calibration::Calibration;
using calibration::Kind;
using calibration::ReadingSet;
using protocol::Errc;
using protocol::Error;
using protocol::Result;

// From the file, or from the person at the rig.
Result<ReadingSet> take_readings(CalibrateOptions& options, Console& console) {
  const bool is_guided = options.guided.guided || options.guided.resume;
  if (is_guided != options.readings.empty()) {
    return Error{Errc::usage,
                 "Give either a file of readings, or --guided to take them now at the rig."};
  }
  if (is_guided) return take_guided_readings(options, console);
  return calibration::load_readings(options.readings, options.kind);
}

Result<void> run_calibrate(const CalibrateOptions& given, Console& console) {
  CalibrateOptions options = given;
  if (options.guided.dry_run) return tell_guided_plan(options, console);
  protocol::DiskFileSystem disk;
  // Before the readings are taken, which may be hours of work.
  if (const auto free = check_page_path(disk, options.html); !free) return free.error();
  Result<ReadingSet> set = take_readings(options, console);
  if (!set) return set.error();
  std::vector<std::string> warnings;
  const Result<void> completed = complete_readings(*set, options, warnings);
  if (!completed) return completed.error();
  for (const std::string& expired : calibration::expired_standards(set->particulars)) {
    warnings.push_back(expired);
  }
  for (const std::string& warning : warnings) fmt::print(console.err, "Warning: {}\n", warning);
  const Result<Calibration> made = calibration::make_calibration(*set, options.degree);
  if (!made) {
    return protocol::at(options.readings.empty() ? session_path(options) : options.readings,
                        made.error());
  }
  const Result<void> saved = calibration::save_certificate(disk, *made, options.out);
  if (!saved) return saved.error();
  if (!options.html.empty()) {
    const Result<void> page = write_certificate_page(disk, *made, options.html);
    if (!page) return protocol::at(options.out + " is written, but not its page", page.error());
  }
  if (options.json) {
    fmt::print(console.out, "{}", protocol::json_text(calibration_json(*made, options.out)));
  } else {
    fmt::print(console.out, "{}Written: {}\n", calibration_text(*made), options.out);
  }
  suggest(console, fmt::format("name it in bench.toml, [calibrations] {} = \"{}\".",
                               calibration::kind_name(options.kind), options.out));
  return {};
}

void add_kind(Commands& commands, CLI::App& group, Kind kind, const std::string& summary,
              const std::vector<std::string>& examples) {
  const std::string name{calibration::kind_name(kind)};
  auto [app, options] = commands.add<CalibrateOptions>(name, summary, run_calibrate, &group);
  options.kind = kind;
  app.add_option("readings", options.readings, "Readings, as .toml or .csv; none with --guided");
  app.add_option("--out", options.out, "The certificate to write; never overwritten")
      ->required()
      ->type_name("CERT.json");
  app.add_option("--html", options.html, "Its page to print, to write too; never overwritten")
      ->type_name("FILE.html");
  app.add_option("--degree", options.degree,
                 "Degree of the curve, 1 to 3 (not said: the lowest that follows the loads)")
      ->check(CLI::Range(1, calibration::kDegreeMax));
  add_guided_options(app, options.guided, kind);
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
            "--valid-until 2027-11-25 --operator \"R. Fell\"",
            "springwright calibrate force --guided --rig /dev/ttyUSB0 --loads \"0, 5, 10, 20, 30, "
            "40, 50 kg\" --out calibrations/force.json"});
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
