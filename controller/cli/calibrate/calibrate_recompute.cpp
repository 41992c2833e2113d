#include "controller/cli/calibrate/calibrate_recompute.hpp"

#include <fmt/ostream.h>

#include <CLI/CLI.hpp>
#include <algorithm>
#include <cmath>
#include <filesystem>
#include <optional>
#include <string>

#include "calibration/certificate.hpp"
#include "calibration/recompute.hpp"
#include "controller/cli/options.hpp"
#include "controller/cli/workshop/identity.hpp"
#include "protocol/record/json_fields.hpp"
#include "protocol/record/record_reader.hpp"
#include "protocol/record/record_writer.hpp"

namespace controller::cli {
namespace {

using calibration::Calibration;
using calibration::Kind;
using protocol::Errc;
using protocol::Error;
using protocol::Result;
using protocol::SweepRecord;

struct RecomputeOptions {
  std::string record;
  std::string force;
  std::string travel;
  std::string frame;
  std::string out;
  bool json = false;
};

struct Loaded {
  std::optional<Calibration> force;
  std::optional<Calibration> travel;
  std::optional<Calibration> frame;

  calibration::Certificates certificates() const {
    const auto pointer = [](const std::optional<Calibration>& each) {
      return each ? &*each : nullptr;
    };
    return {pointer(force), pointer(travel), pointer(frame)};
  }
};

Result<void> load(const std::string& path, Kind kind, std::optional<Calibration>& into,
                  Console& console) {
  if (path.empty()) return {};
  Result<calibration::LoadedCertificate> loaded = calibration::load_certificate(path, today());
  if (!loaded) return loaded.error();
  if (loaded->calibration.kind != kind) {
    return Error{Errc::calibration_unusable,
                 fmt::format("'{}' is a {} calibration; give it as --{}-calibration.", path,
                             calibration::kind_name(loaded->calibration.kind),
                             calibration::kind_name(loaded->calibration.kind))};
  }
  for (const std::string& warning : loaded->warnings) {
    fmt::print(console.err, "Warning: {}\n", warning);
  }
  into = std::move(loaded->calibration);
  return {};
}

double largest(const std::vector<double>& values) {
  return *std::max_element(values.begin(), values.end());
}

// The largest change of a column, with its sign.
double largest_change(const std::vector<double>& before, const std::vector<double>& after) {
  double change = 0.0;
  for (std::size_t i = 0; i < before.size(); ++i) {
    if (std::abs(after[i] - before[i]) > std::abs(change)) change = after[i] - before[i];
  }
  return change;
}

void answer(const RecomputeOptions& options, const SweepRecord& before, const SweepRecord& after,
            Console& console) {
  const double force_N = largest_change(before.force_N, after.force_N);
  const double travel_mm = 1e3 * largest_change(before.travel_m, after.travel_m);
  if (options.json) {
    console.out << protocol::json_text({{"record", options.out},
                                        {"record_id", after.metadata.record_id},
                                        {"recomputed_from", after.metadata.recomputed_from},
                                        {"largest_force_change_N", force_N},
                                        {"largest_travel_change_mm", travel_mm},
                                        {"remarks", after.metadata.remarks}});
    return;
  }
  fmt::print(console.out,
             "{}\n{} rows, up to {:.1f} N; forces changed by up to {:+.2f} N, travel "
             "by up to {:+.4f} mm.\n",
             options.out, after.size(), largest(after.force_N), force_N, travel_mm);
}

Result<void> run_recompute(const RecomputeOptions& options, Console& console) {
  if (options.force.empty() && options.travel.empty() && options.frame.empty()) {
    return Error{Errc::usage,
                 "By which certificate? Give --force-calibration, --travel-calibration or "
                 "--frame-calibration."};
  }
  Loaded loaded;
  Result<void> done = load(options.force, Kind::force, loaded.force, console);
  if (done) done = load(options.travel, Kind::travel, loaded.travel, console);
  if (done) done = load(options.frame, Kind::frame, loaded.frame, console);
  if (!done) return done;
  const Result<SweepRecord> record =
      protocol::load_record(options.record, protocol::UnusableRecords::accept);
  if (!record) return record.error();
  Result<SweepRecord> made = calibration::recompute(*record, loaded.certificates());
  if (!made) return protocol::at(options.record, made.error());
  made->metadata.record_id = new_record_id();
  made->metadata.created = utc_now();
  protocol::DiskFileSystem files;
  const Result<void> written = protocol::write_record(files, options.out, *made);
  if (!written) return written.error();
  answer(options, *record, *made, console);
  return {};
}

}  // namespace

void add_calibrate_recompute(Commands& commands, CLI::App& group) {
  auto [app, options] = commands.add<RecomputeOptions>(
      "recompute",
      "Make a new record out of an old one's raw counts and steps, by other certificates.",
      run_recompute, &group);
  app.add_option("record", options.record, "The record's CSV file; it stays as it is")
      ->required()
      ->type_name("RECORD.csv");
  app.add_option("--force-calibration", options.force, "Certificate of the load cell [unchanged]")
      ->type_name("CERT.json");
  app.add_option("--travel-calibration", options.travel, "Certificate of the screw [unchanged]")
      ->type_name("CERT.json");
  app.add_option("--frame-calibration", options.frame,
                 "Certificate of the frame's give [unchanged]")
      ->type_name("CERT.json");
  app.add_option("--out", options.out, "The new record")->required()->type_name("NEW.csv");
  add_json(app, options.json);
  add_examples(app, {"springwright calibrate recompute sweeps/larch-160-0001.csv "
                     "--force-calibration calibrations/force-2027.json "
                     "--out sweeps/larch-160-0001-recomputed.csv"});
}

}  // namespace controller::cli
