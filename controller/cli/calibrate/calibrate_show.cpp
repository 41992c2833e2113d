#include "controller/cli/calibrate/calibrate_show.hpp"

#include <fmt/ostream.h>

#include <CLI/CLI.hpp>
#include <string>

#include "calibration/certificate.hpp"
#include "controller/cli/calibrate/calibrate_text.hpp"
#include "controller/cli/calibrate/certificate_page.hpp"
#include "controller/cli/options.hpp"
#include "controller/cli/workshop/identity.hpp"
#include "controller/cli/workshop/workshop.hpp"
#include "fitting/report/certificate_report.hpp"

namespace controller::cli {
namespace {

using protocol::Json;
using protocol::Result;

struct ShowOptions {
  std::string certificate;
  std::string html;
  bool json = false;
};

Result<void> run_show(const ShowOptions& options, Console& console) {
  const auto loaded = calibration::load_certificate(options.certificate, today());
  if (!loaded) return loaded.error();
  const calibration::Calibration& calibration = loaded->calibration;
  for (const std::string& warning : loaded->warnings) {
    fmt::print(console.err, "Warning: {}\n", warning);
  }
  if (!options.html.empty()) {
    protocol::DiskFileSystem disk;
    const Result<void> written = write_certificate_page(disk, calibration, options.html);
    if (!written) return written.error();
  }
  const fitting::Report report = fitting::certificate_report(calibration);
  if (options.json) {
    Json json = calibration_json(calibration, options.certificate);
    json["summary"] = Json::array();
    for (const fitting::Finding& each : report.summary) json["summary"].push_back(each.sentence);
    json["warnings"] = loaded->warnings;
    if (!options.html.empty()) json["page"] = options.html;
    fmt::print(console.out, "{}", protocol::json_text(json));
    return {};
  }
  fmt::print(console.out, "{}", calibration_text(calibration));
  for (const fitting::Finding& each : report.summary) {
    fmt::print(console.out, "  {}\n", each.sentence);
  }
  if (!options.html.empty()) fmt::print(console.out, "Written: {}\n", options.html);
  return {};
}

}  // namespace

void add_calibrate_show(Commands& commands, CLI::App& group) {
  auto [app, options] = commands.add<ShowOptions>(
      "show", "A certificate in words, and as a page to print.", run_show, &group);
  app.add_option("certificate", options.certificate, "The certificate")
      ->required()
      ->type_name("CERT.json");
  app.add_option("--html", options.html, "The page to write; never overwritten")
      ->type_name("FILE.html");
  add_json(app, options.json);
  add_examples(app, {"springwright calibrate show calibrations/force.json",
                     "springwright calibrate show calibrations/force.json --html force.html"});
}

}  // namespace controller::cli
