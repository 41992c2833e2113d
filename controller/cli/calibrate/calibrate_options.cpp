#include "controller/cli/calibrate/calibrate_options.hpp"

#include <fmt/format.h>

#include <CLI/CLI.hpp>
#include <filesystem>

#include "calibration/certificate.hpp"
#include "calibration/readings_file.hpp"
#include "controller/cli/options.hpp"
#include "controller/cli/workshop/identity.hpp"
#include "controller/cli/workshop/workshop.hpp"
#include "protocol/record/bench_file.hpp"

namespace controller::cli {
namespace {

using calibration::Calibration;
using calibration::Kind;
using calibration::ReadingSet;
using protocol::Dimension;
using protocol::Errc;
using protocol::Error;
using protocol::Result;
namespace fs = std::filesystem;

void take(std::string& target, const std::string& said) {
  if (!said.empty()) target = said;
}

template <class T>
void take(std::optional<T>& target, const std::optional<T>& said) {
  if (said) target = said;
}

template <class T>
void fill(std::optional<T>& target, const std::optional<T>& fallback) {
  if (!target) target = fallback;
}

void override_particulars(ReadingSet& set, const CalibrateOptions& options) {
  calibration::Particulars& particulars = set.particulars;
  take(particulars.rig_id, options.particulars.rig_id);
  take(particulars.cell_id, options.particulars.cell_id);
  take(particulars.operator_name, options.particulars.operator_name);
  take(particulars.date, options.particulars.date);
  take(particulars.valid_until, options.particulars.valid_until);
  take(particulars.place, options.particulars.place);
  take(particulars.temperature_K, options.particulars.temperature_K);
  const calibration::Standard& standard = options.standard;
  if (!standard.name.empty() || !standard.certificate.empty() || !standard.weight_class.empty() ||
      !standard.valid_until.empty() || standard.relative_standard_uncertainty) {
    particulars.standards = {standard};
  }
  if (particulars.date.empty()) particulars.date = today();
  if (options.resolution) set.resolution = *options.resolution;
}

void override_surroundings(ReadingSet& set, const CalibrateOptions& options) {
  take(set.conditions.gravity_m_s2, options.conditions.gravity_m_s2);
  take(set.conditions.air_density_kg_m3, options.conditions.air_density_kg_m3);
  take(set.surroundings.latitude_rad, options.surroundings.latitude_rad);
  take(set.surroundings.altitude_m, options.surroundings.altitude_m);
  take(set.surroundings.air_temperature_K, options.surroundings.air_temperature_K);
  take(set.surroundings.air_pressure_Pa, options.surroundings.air_pressure_Pa);
  take(set.surroundings.air_humidity, options.surroundings.air_humidity);
}

void fill_from_bench(ReadingSet& set, const protocol::Bench& bench) {
  if (set.particulars.rig_id.empty()) set.particulars.rig_id = bench.rig_id;
  if (set.particulars.cell_id.empty() && set.kind == Kind::force) {
    set.particulars.cell_id = bench.cell_id;
  }
  // A place that was said is another place than the bench's.
  if (!set.surroundings.latitude_rad) fill(set.conditions.gravity_m_s2, bench.gravity_m_s2);
  if (!set.surroundings.latitude_rad && !set.surroundings.altitude_m) {
    set.surroundings.latitude_rad = bench.latitude_rad;
    set.surroundings.altitude_m = bench.altitude_m;
  }
}

std::string bench_certificate(const protocol::Bench& bench, Kind kind) {
  switch (kind) {
    case Kind::force:
      return bench.force_calibration;
    case Kind::travel:
      return bench.travel_calibration;
    case Kind::frame:
      return bench.frame_calibration;
  }
  ENSURE(false);
}

// ERRORS: of the file, or calibration_unusable where it is of another kind.
Result<Calibration> load_superseded(const fs::path& path, Kind kind) {
  Result<calibration::LoadedCertificate> loaded = calibration::load_certificate(path, today());
  if (!loaded) return loaded.error();
  if (loaded->calibration.kind != kind) {
    return Error{Errc::calibration_unusable,
                 fmt::format("'{}' is a {} calibration, which a {} calibration cannot supersede; "
                             "name one of the same kind.",
                             path.string(), kind_name(loaded->calibration.kind), kind_name(kind))};
  }
  return std::move(loaded->calibration);
}

bool is_of_same_instrument(const ReadingSet& set, const Calibration& old) {
  const calibration::Particulars& now = set.particulars;
  const calibration::Particulars& then = old.particulars;
  return set.kind == Kind::force ? now.cell_id == then.cell_id : now.rig_id == then.rig_id;
}

// The certificate in use steps back for its successor. One that cannot be read is no reason against
// a new one.
void supersede_of_bench(ReadingSet& set, const fs::path& workshop, const protocol::Bench& bench,
                        std::vector<std::string>& warnings) {
  const std::string name = bench_certificate(bench, set.kind);
  if (name.empty() || !fs::exists(workshop / name)) return;
  const Result<Calibration> old = load_superseded(workshop / name, set.kind);
  if (!old) {
    warnings.push_back(fmt::format("the certificate that bench.toml names cannot be superseded: {}",
                                   old.error().message));
    return;
  }
  if (is_of_same_instrument(set, *old)) set.particulars.supersedes = old->id;
}

Result<void> add_creep(ReadingSet& set, const CalibrateOptions& options) {
  if (!options.creep.empty()) {
    Result<std::vector<calibration::CreepReading>> readings =
        calibration::load_creep_csv(options.creep);
    if (!readings) return readings.error();
    if (!set.creep) set.creep.emplace();
    set.creep->readings = std::move(*readings);
  }
  const MassOrForce& load = options.creep_load;
  if (!load.mass_kg && !load.force_N) return {};
  if (!set.creep) {
    return Error{Errc::usage,
                 "--creep-load is said, but there are no creep readings; give them with --creep."};
  }
  set.creep->load_kg = load.mass_kg;
  set.creep->load_N = load.force_N.value_or(0.0);
  return {};
}

void add_creep_load(CLI::App& app, CalibrateOptions& options) {
  app.add_option("--creep", options.creep, "Readings under one load that stays on: time_s,counts")
      ->type_name("FILE.csv");
  add_mass_or_force(app, "--creep-load", options.creep_load, "That load, as a force or a mass")
      .type_name("\"N kg\"");
}

void add_surroundings(CLI::App& app, CalibrateOptions& options) {
  app.add_option("--gravity-m-s2", options.conditions.gravity_m_s2,
                 "Local gravity, for weights (not said: from the latitude, else of bench.toml, "
                 "else 9.80665 with 0.15 % in doubt)");
  calibration::Surroundings& place = options.surroundings;
  add_quantity(app, "--latitude", Dimension::angle, place.latitude_rad,
               "Latitude, for local gravity");
  add_quantity(app, "--altitude", Dimension::length, place.altitude_m,
               "Altitude, for local gravity and the air's pressure")
      .type_name("\"N m\"");
  app.add_option("--air-density-kg-m3", options.conditions.air_density_kg_m3,
                 "Density of the air, for the weights' buoyancy (not said: worked out where "
                 "anything of the air is known, else none)");
  add_quantity(app, "--air-temperature", Dimension::temperature, place.air_temperature_K,
               "Of the air at the weights (not said: of the room, else 20 degC)");
  add_quantity(app, "--air-pressure", Dimension::pressure, place.air_pressure_Pa,
               "Absolute (not said: standard atmosphere at the altitude)");
  add_quantity(app, "--air-humidity", Dimension::fraction, place.air_humidity,
               "Relative humidity (not said: 50 %)");
}

}  // namespace

void add_particulars(CLI::App& app, CalibrateOptions& options) {
  calibration::Particulars& particulars = options.particulars;
  calibration::Standard& standard = options.standard;
  app.add_option("--operator", particulars.operator_name, "Who calibrates");
  app.add_option("--rig", particulars.rig_id, "Which rig; with --guided its port, or virtual:FILE");
  app.add_option("--cell", particulars.cell_id, "Which load cell, screw or frame");
  app.add_option("--place", particulars.place, "Where, in words");
  add_quantity(app, "--temperature", Dimension::temperature, particulars.temperature_K,
               "Of the room");
  app.add_option("--date", particulars.date, "Day of the readings (default: today)")
      ->type_name("YYYY-MM-DD");
  app.add_option("--valid-until", particulars.valid_until, "Last day of use")
      ->type_name("YYYY-MM-DD");
  app.add_option("--supersedes", options.supersedes,
                 "The certificate that this one takes the place of (not said: the one of the same "
                 "instrument that bench.toml names)")
      ->type_name("OLD.json");
  app.add_option("--standard", standard.name, "The standard: weights, transducer, blocks");
  app.add_option("--standard-certificate", standard.certificate, "Its certificate");
  app.add_option("--standard-valid-until", standard.valid_until, "Last day of that certificate")
      ->type_name("YYYY-MM-DD");
  add_quantity(app, "--standard-uncertainty", Dimension::fraction,
               standard.relative_standard_uncertainty,
               "Its relative standard uncertainty, k = 1 (not said: of the weights' class, else "
               "0.1 % is assumed)");
  app.add_option(
      "--resolution", options.resolution,
      "The smallest step of a reading, in " + std::string(calibration::reading_unit(options.kind)));
  if (options.kind != Kind::force) return;
  app.add_option("--weight-class", standard.weight_class, "Class of the weights after OIML R 111")
      ->type_name("M1");
  add_creep_load(app, options);
  add_surroundings(app, options);
}

Result<void> complete_readings(ReadingSet& set, const CalibrateOptions& options,
                               std::vector<std::string>& warnings) {
  override_particulars(set, options);
  override_surroundings(set, options);
  if (const Result<void> added = add_creep(set, options); !added) return added.error();
  if (!options.supersedes.empty()) {
    const Result<Calibration> old = load_superseded(options.supersedes, set.kind);
    if (!old) return old.error();
    set.particulars.supersedes = old->id;
  }
  const std::optional<fs::path> workshop = find_workshop(".");
  if (!workshop) return {};
  const Result<protocol::Bench> bench = protocol::load_bench(*workshop / "bench.toml");
  if (!bench) return bench.error();
  fill_from_bench(set, *bench);
  if (options.supersedes.empty()) supersede_of_bench(set, *workshop, *bench, warnings);
  return {};
}

}  // namespace controller::cli
