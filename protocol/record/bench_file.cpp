#include "protocol/record/bench_file.hpp"

#include <fmt/format.h>

#include "protocol/record/file_system.hpp"
#include "protocol/record/toml_fields.hpp"

namespace protocol {
namespace {

constexpr size_t kBenchBytesMax = 1 << 20;

template <class T, class U>
void take(T& target, const std::optional<U>& value) {
  if (value) target = *value;
}

Result<void> read_rig(TomlFields rig, Bench& bench) {
  take(bench.port, rig.maybe_text("port"));
  take(bench.rig_id, rig.maybe_text("name"));
  take(bench.cell_id, rig.maybe_text("cell"));
  const std::optional<double> steps_per_mm = rig.maybe_number("steps_per_mm");
  rig.require_positive("steps_per_mm", steps_per_mm);
  take(bench.steps_per_mm, steps_per_mm);
  const std::string coupling = rig.maybe_text("coupling").value_or("clamped");
  if (coupling != "clamped" && coupling != "push") {
    rig.fail(Errc::input_malformed, "coupling",
             "\"" + coupling + "\" is not known; write \"clamped\" or \"push\".");
  }
  bench.coupling = coupling == "push" ? Coupling::push : Coupling::clamped;
  return rig.finish();
}

Result<void> read_sweep(TomlFields sweep, Bench& bench) {
  const std::optional<double> speed = sweep.maybe_quantity("speed", Dimension::speed);
  sweep.require_positive("speed", speed);
  take(bench.speed_m_s, speed);
  const std::optional<double> acceleration_mm_s2 = sweep.maybe_number("acceleration_mm_s2");
  sweep.require_positive("acceleration_mm_s2", acceleration_mm_s2);
  if (acceleration_mm_s2) bench.acceleration_m_s2 = *acceleration_mm_s2 / 1000.0;
  return sweep.finish();
}

Result<void> read_limits(TomlFields limits, Bench& bench) {
  const std::optional<double> force = limits.maybe_quantity("force", Dimension::force);
  limits.require_positive("force", force);
  take(bench.force_max_N, force);
  const std::optional<double> travel = limits.maybe_quantity("travel", Dimension::length);
  limits.require_positive("travel", travel);
  take(bench.travel_max_m, travel);
  return limits.finish();
}

Result<void> read_place(TomlFields place, Bench& bench) {
  bench.gravity_m_s2 = place.maybe_number("gravity_m_s2");
  // From the equator to the poles gravity goes from 9.780 to 9.832 m/s2 at sea level.
  if (bench.gravity_m_s2 && (*bench.gravity_m_s2 < 9.70 || *bench.gravity_m_s2 > 9.90)) {
    place.fail(Errc::input_out_of_range, "gravity_m_s2",
               "no workshop has that; about 9.78 to 9.83.");
  }
  bench.latitude_rad = place.maybe_quantity("latitude", Dimension::angle);
  bench.altitude_m = place.maybe_quantity("altitude", Dimension::length);
  return place.finish();
}

Result<void> read_gauge(TomlFields gauge, Bench& bench) {
  const std::optional<double> relative =
      gauge.maybe_quantity("relative_doubt", Dimension::fraction);
  gauge.require_positive("relative_doubt", relative);
  take(bench.gauge_relative, relative);
  const std::optional<double> reading = gauge.maybe_quantity("reading_doubt", Dimension::pressure);
  gauge.require_positive("reading_doubt", reading);
  take(bench.gauge_reading_Pa, reading);
  return gauge.finish();
}

Result<void> read_calibrations(TomlFields calibrations, Bench& bench) {
  take(bench.force_calibration, calibrations.maybe_text("force"));
  take(bench.travel_calibration, calibrations.maybe_text("travel"));
  take(bench.frame_calibration, calibrations.maybe_text("frame"));
  return calibrations.finish();
}

}  // namespace

Result<Bench> parse_bench(std::string_view text, std::string_view name) {
  const Result<toml::table> file = parse_toml(text, name);
  if (!file) return file.error();
  TomlFields top(&*file, "", name);
  Bench bench;
  using Reader = Result<void> (*)(TomlFields, Bench&);
  constexpr std::pair<const char*, Reader> kTables[] = {
      {"rig", read_rig},     {"sweep", read_sweep}, {"limits", read_limits},
      {"place", read_place}, {"gauge", read_gauge}, {"calibrations", read_calibrations}};
  for (const auto& [key, read] : kTables) {
    const toml::table* table = top.maybe_table(key);
    const Result<void> done = read(TomlFields(table, fmt::format("[{}]", key), name), bench);
    if (!done) return done.error();
  }
  const Result<void> done = top.finish();
  if (!done) return done.error();
  return bench;
}

Result<Bench> load_bench(const std::filesystem::path& path) {
  const Result<std::string> text = read_text_file(path, kBenchBytesMax);
  if (!text) return text.error();
  return parse_bench(*text, path.string());
}

std::string new_bench_text() {
  return R"(# The bench of this workshop. Every key may be left out; the values below are the defaults.

[rig]
# port = "/dev/serial/by-id/..."   # or "virtual:FORK_PLANT.toml"
# name = "bench-1"                 # records of one rig share the doubt of its load cell
# cell = "S-beam 5 kN, 0417"       # the load cell that is mounted; another's certificate is refused
steps_per_mm = 400
coupling = "clamped"               # "push" for a rig that cannot pull

[sweep]
speed = "4 mm/s"
acceleration_mm_s2 = 50

[limits]
force = "2500 N"
travel = "200 mm"

[place]
# gravity_m_s2 = 9.81              # for weights in kilograms; or the latitude
# latitude = "47 deg"
# altitude = "400 m"

[gauge]                            # standard uncertainties of the pressure gauge
relative_doubt = "1 %"
reading_doubt = "0.5 psi"

[calibrations]
# force = "calibrations/force.json"
# travel = "calibrations/travel.json"
# frame = "calibrations/frame.json"
)";
}

}  // namespace protocol
