#include "controller/virtual_rig/plant_file.hpp"

#include <fmt/format.h>

#include <filesystem>
#include <functional>
#include <set>
#include <string_view>

#define TOML_EXCEPTIONS 0
#include <toml++/toml.h>

namespace controller::virtual_rig {
namespace {

using protocol::Dimension;
using protocol::Errc;
using protocol::Error;
using protocol::Result;

std::string place(const std::string& path, const toml::source_region& source) {
  return fmt::format("{}:{}:{}", path, source.begin.line, source.begin.column);
}

// Reads one table key by key; the first mistake is kept, later reads do nothing. close() refuses
// the keys that nobody asked for.
class TableReader {
 public:
  TableReader(const std::string& path, const toml::table& table, std::string name,
              std::optional<Error>& error)
      : path_(path), table_(table), name_(std::move(name)), error_(error) {}

  void quantity(std::string_view key, Dimension dimension, double& out) {
    const toml::node* node = find(key, true);
    if (node == nullptr) return;
    const auto text = node->value_exact<std::string>();
    if (!text) {
      return fail(*node, Errc::input_malformed,
                  fmt::format("{} must be a text with a unit, such as \"12.5 {}\".", full(key),
                              protocol::unit_list(dimension)));
    }
    const Result<double> value = protocol::parse_quantity(*text, dimension);
    if (!value) return fail(*node, value.error().code, full(key) + ": " + value.error().message);
    out = *value;
  }

  void positive(std::string_view key, Dimension dimension, double& out) {
    quantity(key, dimension, out);
    if (!error_ && out <= 0.0) {
      fail(*table_.get(key), Errc::input_out_of_range,
           fmt::format("{} must be more than zero.", full(key)));
    }
  }

  void number(std::string_view key, double& out) {
    const toml::node* node = find(key, true);
    if (node == nullptr) return;
    const auto value = node->value<double>();
    if (!value || node->is_string() || node->is_boolean()) {
      return fail(*node, Errc::input_malformed, full(key) + " must be a plain number.");
    }
    out = *value;
  }

  void text(std::string_view key, std::string& out) {
    const toml::node* node = find(key, true);
    if (node == nullptr) return;
    const auto value = node->value_exact<std::string>();
    if (!value) return fail(*node, Errc::input_malformed, full(key) + " must be a text.");
    out = *value;
  }

  // Exactly one of a wall coefficient and a thermal time.
  void wall(WallLaw& out) {
    const bool has_time = table_.contains("thermal_time");
    if (has_time == table_.contains("wall_coefficient_W_per_m2K")) {
      return fail(
          table_, Errc::input_malformed,
          fmt::format("[{}] takes either wall_coefficient_W_per_m2K or thermal_time.", name_));
    }
    if (!has_time) return number("wall_coefficient_W_per_m2K", out.coefficient_W_m2K);
    double time_s = 0.0;
    positive("thermal_time", Dimension::time, time_s);
    out.thermal_time_s = time_s;
  }

  template <class Read>
  void table(std::string_view key, Read read) {
    const toml::node* node = find(key, true);
    if (node == nullptr) return;
    const toml::table* inner = node->as_table();
    if (inner == nullptr) {
      return fail(*node, Errc::input_malformed, fmt::format("{} must be a table.", full(key)));
    }
    TableReader reader(path_, *inner, full(key), error_);
    read(reader);
    reader.close();
  }

  void close() {
    for (const auto& [key, node] : table_) {
      if (error_) return;
      if (asked_.count(std::string(key.str())) == 0) {
        fail(
            node, Errc::input_unknown_key,
            fmt::format("'{}' is not a key of a plant file; check its spelling.", full(key.str())));
      }
    }
  }

 private:
  const toml::node* find(std::string_view key, bool required) {
    asked_.insert(std::string(key));
    if (error_) return nullptr;
    const toml::node* node = table_.get(key);
    if (node == nullptr && required) {
      fail(table_, Errc::input_malformed, fmt::format("{} is missing; add it.", full(key)));
    }
    return node;
  }
  std::string full(std::string_view key) const {
    return name_.empty() ? std::string(key) : name_ + "." + std::string(key);
  }
  void fail(const toml::node& node, Errc code, const std::string& message) {
    if (!error_) error_ = protocol::at(place(path_, node.source()), Error{code, message});
  }

  const std::string& path_;
  const toml::table& table_;
  std::string name_;
  std::optional<Error>& error_;
  std::set<std::string> asked_;
};

constexpr double kSquareCentimetre_m2 = 1e-4;
constexpr double kSquareMillimetre_m2 = 1e-6;

void read_chamber(TableReader& in, AirChamber& out) {
  in.positive("volume", Dimension::volume, out.volume_m3);
  in.quantity("extra_volume", Dimension::volume, out.extra_volume_m3);
  in.number("extra_area_cm2", out.extra_area_m2);
  out.extra_area_m2 *= kSquareCentimetre_m2;
  in.wall(out.wall);
}

void read_port(TableReader& in, TransferPort& out) {
  in.quantity("travel", Dimension::length, out.centre_m);
  in.positive("band", Dimension::length, out.band_m);
  in.positive("edge", Dimension::length, out.edge_m);
  in.number("area_mm2", out.area_m2);
  out.area_m2 *= kSquareMillimetre_m2;
  in.number("discharge", out.discharge);
}

void read_lower_legs(TableReader& in, LowerLegChamber& out) {
  in.positive("stanchion_diameter", Dimension::length, out.stanchion_diameter_m);
  in.positive("volume", Dimension::volume, out.volume_m3);
  in.number("wall_area_cm2", out.wall_area_m2);
  out.wall_area_m2 *= kSquareCentimetre_m2;
  in.wall(out.wall);
}

void read_friction(TableReader& in, SealFriction& out) {
  in.quantity("coulomb", Dimension::force, out.coulomb_N);
  in.number("coulomb_N_per_bar", out.coulomb_N_per_Pa);
  out.coulomb_N_per_Pa /= protocol::from_unit(1.0, "bar");
  in.number("static_ratio", out.bristles.static_ratio);
  in.positive("stribeck_speed", Dimension::speed, out.bristles.stribeck_speed_m_s);
  in.positive("bristle_stiffness", Dimension::rate, out.bristles.bristle_stiffness_N_m);
  in.number("bristle_damping_N_s_per_m", out.bristles.bristle_damping_Ns_m);
}

void read_fork(TableReader& in, PlantFork& fork, std::string& bench) {
  in.text("name", fork.name);
  in.text("bench", bench);
  in.positive("travel", Dimension::length, fork.travel_m);
  in.table("air_spring", [&](TableReader& air) {
    air.positive("piston_diameter", Dimension::length, fork.piston_diameter_m);
    air.positive("shaft_diameter", Dimension::length, fork.shaft_diameter_m);
    air.positive("spacer_volume", Dimension::volume, fork.spacer_volume_m3);
    air.table("positive", [&](TableReader& t) { read_chamber(t, fork.positive); });
    air.table("negative", [&](TableReader& t) { read_chamber(t, fork.negative); });
    air.table("port", [&](TableReader& t) { read_port(t, fork.port); });
  });
  in.table("lower_legs", [&](TableReader& t) { read_lower_legs(t, fork.lower_legs); });
  in.quantity("preload", Dimension::force, fork.preload_N);
  in.table("friction", [&](TableReader& t) { read_friction(t, fork.friction); });
  in.table("damper", [&](TableReader& t) {
    t.quantity("rod_diameter", Dimension::length, fork.damper_rod_diameter_m);
    t.number("compression_N_s_per_m", fork.damper_compression_Ns_m);
    t.number("rebound_N_s_per_m", fork.damper_rebound_Ns_m);
  });
  in.table("bumper", [&](TableReader& t) {
    t.positive("length", Dimension::length, fork.bumper_m);
    t.quantity("full_force", Dimension::force, fork.bumper_full_N);
  });
  in.positive("stop_stiffness", Dimension::rate, fork.stop_N_m);
  in.positive("bushing_stiffness", Dimension::rate, fork.bushing_N_m);
}

void read_load_cell(TableReader& in, LoadCellData& out) {
  in.number("counts_per_N", out.counts_per_N);
  in.number("offset_counts", out.offset_counts);
  in.quantity("noise", Dimension::force, out.noise_N);
  in.positive("full_scale", Dimension::force, out.full_scale_N);
  in.quantity("non_linearity", Dimension::fraction, out.non_linearity);
  in.quantity("creep", Dimension::fraction, out.creep);
  in.positive("creep_time", Dimension::time, out.creep_time_s);
  in.number("zero_drift_N_per_K", out.zero_drift_N_per_K);
  in.number("gain_drift_per_K", out.gain_drift_per_K);
  in.quantity("reference_temperature", Dimension::temperature, out.reference_K);
  in.number("samples_per_s", out.samples_per_s);
}

void read_bench(TableReader& in, PlantBench& bench) {
  in.text("name", bench.name);
  in.table("drive", [&](TableReader& t) {
    t.number("steps_per_mm", bench.steps_per_mm);
    t.quantity("backlash", Dimension::length, bench.backlash_m);
    t.positive("frame_stiffness", Dimension::rate, bench.frame_N_m);
    t.quantity("top_switch", Dimension::length, bench.top_switch_m);
    t.quantity("bottom_switch", Dimension::length, bench.bottom_switch_m);
  });
  in.table("load_cell", [&](TableReader& t) { read_load_cell(t, bench.load_cell); });
  in.table("room", [&](TableReader& t) {
    t.quantity("temperature", Dimension::temperature, bench.room_K);
    t.number("drift_K_per_h", bench.room_drift_K_per_h);
  });
}

Result<void> read_file(const std::string& path, const std::function<void(TableReader&)>& read) {
  if (!std::filesystem::is_regular_file(path)) {
    return Error{Errc::input_missing,
                 fmt::format("{}: there is no such file; give the path of a plant file.", path)};
  }
  const toml::parse_result parsed = toml::parse_file(path);
  if (!parsed) {
    return protocol::at(place(path, parsed.error().source()),
                        Error{Errc::input_malformed,
                              fmt::format("{}.", std::string(parsed.error().description()))});
  }
  std::optional<Error> error;
  TableReader reader(path, parsed.table(), "", error);
  read(reader);
  reader.close();
  if (error) return *error;
  return {};
}

}  // namespace

Result<PlantFile> load_plant(const std::string& path) {
  PlantFile file;
  std::string bench;
  if (const Result<void> read =
          read_file(path, [&](TableReader& in) { read_fork(in, file.fork, bench); });
      !read) {
    return read.error();
  }
  const std::string bench_path = (std::filesystem::path(path).parent_path() / bench).string();
  if (const Result<void> read =
          read_file(bench_path, [&](TableReader& in) { read_bench(in, file.bench); });
      !read) {
    return read.error();
  }
  const PlantFork& fork = file.fork;
  if (fork.shaft_diameter_m >= fork.piston_diameter_m ||
      fork.piston_area_m2() * fork.travel_m >= fork.positive.volume_m3 ||
      fork.lower_leg_area_m2() * fork.travel_m >= fork.lower_legs.volume_m3) {
    return Error{
        Errc::input_out_of_range,
        fmt::format("{}: the piston does not fit: over {} mm of travel it displaces {} cm3 "
                    "of {} cm3, and the stanchions {} cm3 of {} cm3; check diameters and "
                    "volumes.",
                    path, fork.travel_m * 1e3, fork.piston_area_m2() * fork.travel_m * 1e6,
                    fork.positive.volume_m3 * 1e6, fork.lower_leg_area_m2() * fork.travel_m * 1e6,
                    fork.lower_legs.volume_m3 * 1e6)};
  }
  return file;
}

}  // namespace controller::virtual_rig
