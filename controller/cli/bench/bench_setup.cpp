#include "controller/cli/bench/bench_setup.hpp"

#include <fmt/format.h>

#include <CLI/CLI.hpp>

#include "calibration/certificate.hpp"
#include "calibration/superseded.hpp"
#include "controller/cli/workshop/identity.hpp"
#include "controller/cli/workshop/workshop.hpp"
#include "protocol/record/bench_file.hpp"

namespace controller::cli {
namespace {

using calibration::Calibration;
using calibration::Kind;
using protocol::Errc;
using protocol::Error;
using protocol::Result;
namespace fs = std::filesystem;

// The option's path as it is, or the bench's path from the bench file's folder.
fs::path chosen(const std::string& said, const std::string& of_bench, const BenchSetup& setup) {
  if (!said.empty() || of_bench.empty()) return said;
  return setup.workshop ? *setup.workshop / of_bench : fs::path(of_bench);
}

// A cell of another sensitivity would be read wrongly without anybody noticing. ERRORS:
// calibration_unusable. A screw or frame of another rig differs less, and is warned of.
Result<void> check_instrument(const Calibration& certificate, const fs::path& path,
                              BenchSetup& setup) {
  const calibration::Particulars& of = certificate.particulars;
  if (certificate.kind == Kind::force) {
    return check_cell(certificate, path, setup.bench.cell_id);
  }
  if (!of.rig_id.empty() && !setup.bench.rig_id.empty() && of.rig_id != setup.bench.rig_id) {
    setup.warnings.push_back(
        fmt::format("'{}': this {} calibration is of rig '{}', the bench is '{}'; calibrate this "
                    "one.",
                    path.string(), kind_name(certificate.kind), of.rig_id, setup.bench.rig_id));
  }
  return {};
}

Error missing_advice(Error error, Kind kind) {
  if (error.code != Errc::input_missing) return error;
  error.message +=
      fmt::format(" Make it by \"springwright calibrate {}\", or take its line out of bench.toml.",
                  calibration::kind_name(kind));
  return error;
}

Result<std::optional<Calibration>> load(const fs::path& path, Kind kind, BenchSetup& setup) {
  if (path.empty()) return std::optional<Calibration>();
  Result<calibration::LoadedCertificate> loaded = calibration::load_certificate(path, today());
  if (!loaded) return missing_advice(loaded.error(), kind);
  if (loaded->calibration.kind != kind) {
    return Error{Errc::calibration_unusable,
                 fmt::format("'{}' is a {} calibration; a {} calibration is needed here.",
                             path.string(), calibration::kind_name(loaded->calibration.kind),
                             calibration::kind_name(kind))};
  }
  const Result<void> fits = check_instrument(loaded->calibration, path, setup);
  if (!fits) return fits.error();
  for (const std::string& warning : loaded->warnings) setup.warnings.push_back(warning);
  for (const std::string& newer : calibration::find_successors(path, loaded->calibration.id)) {
    setup.warnings.push_back(
        fmt::format("'{}': superseded by the newer certificate '{}' beside it; use that one.",
                    path.string(), newer));
  }
  return std::optional<Calibration>(std::move(loaded->calibration));
}

}  // namespace

Result<void> check_cell(const Calibration& certificate, const fs::path& path,
                        const std::string& cell_id) {
  const std::string& of = certificate.particulars.cell_id;
  if (of.empty() || cell_id.empty() || of == cell_id) return {};
  return Error{Errc::calibration_unusable,
               fmt::format("'{}': this certificate is of load cell '{}', but bench.toml says that "
                           "'{}' is mounted ([rig] cell). Take that cell's certificate, or mend "
                           "bench.toml where the cell was changed.",
                           path.string(), of, cell_id)};
}

Result<void> check_mounted_cell(const Calibration& certificate, const fs::path& path) {
  const std::optional<fs::path> workshop = find_workshop(".");
  if (!workshop) return {};
  const Result<protocol::Bench> bench = protocol::load_bench(*workshop / "bench.toml");
  if (!bench) return bench.error();
  return check_cell(certificate, path, bench->cell_id);
}

void add_bench_options(CLI::App& app, BenchOptions& options) {
  app.add_option("--rig", options.rig, "The rig's port, or virtual:FILE [as bench.toml says]")
      ->type_name("PORT|virtual:FILE");
  app.add_option("--force-calibration", options.force_calibration,
                 "Certificate of the load cell [as bench.toml says]")
      ->type_name("CERT.json");
  app.add_option("--travel-calibration", options.travel_calibration,
                 "Certificate of the screw [as bench.toml says]")
      ->type_name("CERT.json");
  app.add_option("--frame-calibration", options.frame_calibration,
                 "Certificate of the frame's give [as bench.toml says]")
      ->type_name("CERT.json");
}

Result<BenchSetup> load_bench_setup(const BenchOptions& options) {
  BenchSetup setup;
  setup.workshop = find_workshop(".");
  if (setup.workshop) {
    Result<protocol::Bench> bench = protocol::load_bench(*setup.workshop / "bench.toml");
    if (!bench) return bench.error();
    setup.bench = std::move(bench).value();
  }
  setup.rig = options.rig.empty() ? setup.bench.port : options.rig;
  if (setup.rig.empty()) {
    return Error{Errc::usage,
                 "Which rig? Give --rig PORT or --rig virtual:FILE, or name it in bench.toml "
                 "([rig] port). \"springwright rig find\" lists the ports."};
  }
  if (options.without_certificates) {
    setup.instruments = host::make_instruments(setup.bench, nullptr, nullptr, nullptr);
    return setup;
  }
  Result<std::optional<Calibration>> force = load(
      chosen(options.force_calibration, setup.bench.force_calibration, setup), Kind::force, setup);
  if (!force) return force.error();
  const Result<std::optional<Calibration>> travel =
      load(chosen(options.travel_calibration, setup.bench.travel_calibration, setup), Kind::travel,
           setup);
  if (!travel) return travel.error();
  const Result<std::optional<Calibration>> frame = load(
      chosen(options.frame_calibration, setup.bench.frame_calibration, setup), Kind::frame, setup);
  if (!frame) return frame.error();
  setup.force = std::move(force).value();
  const auto pointer = [](const std::optional<Calibration>& certificate) {
    return certificate ? &*certificate : nullptr;
  };
  setup.instruments =
      host::make_instruments(setup.bench, pointer(setup.force), pointer(*travel), pointer(*frame));
  return setup;
}

}  // namespace controller::cli
