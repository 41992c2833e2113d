#include "controller/virtual_rig/plant_file.hpp"

#include <fmt/format.h>

#include <filesystem>
#include <functional>
#include <utility>

#include "protocol/record/file_system.hpp"
#include "protocol/record/toml_fields.hpp"

namespace controller::virtual_rig {
namespace {

using protocol::Dimension;
using protocol::Errc;
using protocol::Error;
using protocol::Result;
using protocol::TomlFields;

constexpr double kSquareCentimetre_m2 = 1e-4;
constexpr double kSquareMillimetre_m2 = 1e-6;
constexpr size_t kFileMax_bytes = 1 << 16;

double positive(TomlFields& in, std::string_view key, Dimension dimension) {
  const double value = in.quantity(key, dimension);
  in.require_positive(key, value);
  return value;
}

// A plain number whose unit stands in its key.
double number(TomlFields& in, std::string_view key) {
  const std::optional<double> value = in.maybe_number(key);
  if (!value) in.fail(Errc::input_malformed, key, "this key is required and missing.");
  return value.value_or(0.0);
}

// Exactly one of a wall coefficient and a thermal time.
WallLaw wall(TomlFields& in) {
  WallLaw law;
  law.thermal_time_s = in.maybe_quantity("thermal_time", Dimension::time);
  in.require_positive("thermal_time", law.thermal_time_s);
  const auto coefficient = in.maybe_number("wall_coefficient_W_per_m2K");
  if (coefficient.has_value() == law.thermal_time_s.has_value()) {
    in.fail(Errc::input_malformed, "wall_coefficient_W_per_m2K",
            "either wall_coefficient_W_per_m2K or thermal_time is wanted, not both.");
  }
  law.coefficient_W_m2K = coefficient.value_or(0.0);
  return law;
}

AirChamber chamber(TomlFields& in) {
  AirChamber out;
  out.volume_m3 = positive(in, "volume", Dimension::volume);
  out.extra_volume_m3 = in.quantity("extra_volume", Dimension::volume);
  out.extra_area_m2 = number(in, "extra_area_cm2") * kSquareCentimetre_m2;
  out.wall = wall(in);
  return out;
}

TransferPort port(TomlFields& in) {
  TransferPort out;
  out.centre_m = in.quantity("travel", Dimension::length);
  out.band_m = positive(in, "band", Dimension::length);
  out.edge_m = positive(in, "edge", Dimension::length);
  out.area_m2 = number(in, "area_mm2") * kSquareMillimetre_m2;
  out.discharge = number(in, "discharge");
  return out;
}

LowerLegChamber lower_legs(TomlFields& in) {
  LowerLegChamber out;
  out.stanchion_diameter_m = positive(in, "stanchion_diameter", Dimension::length);
  out.volume_m3 = positive(in, "volume", Dimension::volume);
  out.wall_area_m2 = number(in, "wall_area_cm2") * kSquareCentimetre_m2;
  out.wall = wall(in);
  return out;
}

SealFriction friction(TomlFields& in) {
  SealFriction out;
  out.coulomb_N = in.quantity("coulomb", Dimension::force);
  out.coulomb_N_per_Pa = number(in, "coulomb_N_per_bar") / protocol::from_unit(1.0, "bar");
  out.bristles.static_ratio = number(in, "static_ratio");
  out.bristles.stribeck_speed_m_s = positive(in, "stribeck_speed", Dimension::speed);
  out.bristles.bristle_stiffness_N_m = positive(in, "bristle_stiffness", Dimension::rate);
  out.bristles.bristle_damping_Ns_m = number(in, "bristle_damping_N_s_per_m");
  return out;
}

LoadCellData load_cell(TomlFields& in) {
  LoadCellData out;
  out.counts_per_N = number(in, "counts_per_N");
  out.offset_counts = number(in, "offset_counts");
  out.noise_N = in.quantity("noise", Dimension::force);
  out.full_scale_N = positive(in, "full_scale", Dimension::force);
  out.non_linearity = in.quantity("non_linearity", Dimension::fraction);
  out.hysteresis = in.maybe_quantity("hysteresis", Dimension::fraction).value_or(0.0);
  out.creep = in.quantity("creep", Dimension::fraction);
  out.creep_time_s = positive(in, "creep_time", Dimension::time);
  out.zero_drift_N_per_K = number(in, "zero_drift_N_per_K");
  out.gain_drift_per_K = number(in, "gain_drift_per_K");
  out.reference_K = in.quantity("reference_temperature", Dimension::temperature);
  out.samples_per_s = number(in, "samples_per_s");
  in.require_positive("samples_per_s", out.samples_per_s);
  return out;
}

// One file, table by table; the first mistake of the first table that has one is kept.
class PlantReader {
 public:
  static Result<PlantReader> open(const std::string& path) {
    const Result<std::string> text = protocol::read_text_file(path, kFileMax_bytes);
    if (!text) return text.error();
    Result<toml::table> table = protocol::parse_toml(*text, path);
    if (!table) return table.error();
    return PlantReader(path, *std::move(table));
  }

  using Read = std::function<void(TomlFields&)>;

  void top(const Read& read) { fields(&table_, "", read); }
  // A table within one that is being read.
  void section(TomlFields& parent, const char* key, const char* title, const Read& read) {
    fields(parent.maybe_table(key), title, read);
  }
  const Result<void>& outcome() const { return outcome_; }

 private:
  PlantReader(std::string path, toml::table table)
      : path_(std::move(path)), table_(std::move(table)) {}

  void fields(const toml::table* table, const char* title, const Read& read) {
    TomlFields in(table, title, path_);
    read(in);
    const Result<void> finished = in.finish();
    if (outcome_) outcome_ = finished;
  }

  std::string path_;
  toml::table table_;
  Result<void> outcome_;
};

void read_fork(PlantReader& file, PlantFork& fork, std::string& bench) {
  file.top([&](TomlFields& in) {
    fork.name = in.text("name");
    bench = in.text("bench");
    fork.travel_m = positive(in, "travel", Dimension::length);
    fork.preload_N = in.quantity("preload", Dimension::force);
    fork.stop_N_m = positive(in, "stop_stiffness", Dimension::rate);
    fork.bushing_N_m = positive(in, "bushing_stiffness", Dimension::rate);
    file.section(in, "air_spring", "[air_spring]", [&](TomlFields& air) {
      fork.piston_diameter_m = positive(air, "piston_diameter", Dimension::length);
      fork.shaft_diameter_m = positive(air, "shaft_diameter", Dimension::length);
      fork.spacer_volume_m3 = positive(air, "spacer_volume", Dimension::volume);
      file.section(air, "positive", "[air_spring.positive]",
                   [&](TomlFields& t) { fork.positive = chamber(t); });
      file.section(air, "negative", "[air_spring.negative]",
                   [&](TomlFields& t) { fork.negative = chamber(t); });
      file.section(air, "port", "[air_spring.port]", [&](TomlFields& t) { fork.port = port(t); });
    });
    file.section(in, "lower_legs", "[lower_legs]",
                 [&](TomlFields& t) { fork.lower_legs = lower_legs(t); });
    file.section(in, "friction", "[friction]", [&](TomlFields& t) { fork.friction = friction(t); });
    file.section(in, "damper", "[damper]", [&](TomlFields& t) {
      fork.damper_rod_diameter_m = t.quantity("rod_diameter", Dimension::length);
      fork.damper_compression_Ns_m = number(t, "compression_N_s_per_m");
      fork.damper_rebound_Ns_m = number(t, "rebound_N_s_per_m");
    });
    file.section(in, "bumper", "[bumper]", [&](TomlFields& t) {
      fork.bumper_m = positive(t, "length", Dimension::length);
      fork.bumper_full_N = t.quantity("full_force", Dimension::force);
    });
  });
}

void read_bench(PlantReader& file, PlantBench& bench) {
  file.top([&](TomlFields& in) {
    bench.name = in.text("name");
    file.section(in, "drive", "[drive]", [&](TomlFields& t) {
      bench.steps_per_mm = number(t, "steps_per_mm");
      t.require_positive("steps_per_mm", bench.steps_per_mm);
      bench.backlash_m = t.quantity("backlash", Dimension::length);
      bench.frame_N_m = positive(t, "frame_stiffness", Dimension::rate);
      bench.top_switch_m = t.quantity("top_switch", Dimension::length);
      bench.bottom_switch_m = t.quantity("bottom_switch", Dimension::length);
    });
    file.section(in, "load_cell", "[load_cell]",
                 [&](TomlFields& t) { bench.load_cell = load_cell(t); });
    file.section(in, "room", "[room]", [&](TomlFields& t) {
      bench.room_K = t.quantity("temperature", Dimension::temperature);
      bench.room_drift_K_per_h = number(t, "drift_K_per_h");
    });
  });
}

Result<void> check_geometry(const PlantFork& fork, const std::string& path) {
  const double piston_m3 = fork.piston_area_m2() * fork.travel_m;
  const double stanchions_m3 = fork.lower_leg_area_m2() * fork.travel_m;
  if (fork.shaft_diameter_m < fork.piston_diameter_m && piston_m3 < fork.positive.volume_m3 &&
      stanchions_m3 < fork.lower_legs.volume_m3) {
    return {};
  }
  return Error{
      Errc::input_out_of_range,
      fmt::format("{}: the piston does not fit: over {:.0f} mm of travel it displaces "
                  "{:.1f} cm3 of {:.1f} cm3, and the stanchions {:.1f} cm3 of {:.1f} cm3; "
                  "check diameters and volumes.",
                  path, fork.travel_m * 1e3, piston_m3 * 1e6, fork.positive.volume_m3 * 1e6,
                  stanchions_m3 * 1e6, fork.lower_legs.volume_m3 * 1e6)};
}

}  // namespace

Result<PlantFile> load_plant(const std::string& path) {
  PlantFile plant;
  std::string bench_name;
  Result<PlantReader> fork = PlantReader::open(path);
  if (!fork) return fork.error();
  read_fork(*fork, plant.fork, bench_name);
  if (!fork->outcome()) return fork->outcome().error();
  if (const Result<void> fits = check_geometry(plant.fork, path); !fits) return fits.error();

  Result<PlantReader> bench =
      PlantReader::open((std::filesystem::path(path).parent_path() / bench_name).string());
  if (!bench) return bench.error();
  read_bench(*bench, plant.bench);
  if (!bench->outcome()) return bench->outcome().error();
  return plant;
}

}  // namespace controller::virtual_rig
