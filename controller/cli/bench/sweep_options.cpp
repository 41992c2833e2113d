#include "controller/cli/bench/sweep_options.hpp"

#include <fmt/ostream.h>

#include <CLI/CLI.hpp>

#include "controller/cli/bench/last_sweep.hpp"
#include "controller/cli/comma_list.hpp"
#include "controller/cli/options.hpp"
#include "controller/cli/safety_words.hpp"
#include "protocol/record/fork_file.hpp"

namespace controller::cli {

using protocol::Dimension;
using protocol::Errc;
using protocol::Error;
using protocol::Result;
namespace fs = std::filesystem;

namespace {

template <class T>
void take_over(std::optional<T>& option, const T& last) {
  if (!option) option = last;
}

// --again: whatever was not said is as in the last sweep.
Result<void> repeat_last(SweepOptions& options, protocol::Fork& fork, const fs::path& folder,
                         Console& console) {
  const Result<LastSweep> last = find_last_sweep(folder);
  if (!last) return last.error();
  fmt::print(console.err, "As in {}.\n", last->path.string());
  if (!last->to_m && !options.to_m) {
    fmt::print(console.err,
               "It ended before the far end of its first stroke, which is not known therefore; "
               "--to says where this one goes.\n");
  }
  const protocol::Metadata& metadata = last->metadata;
  const protocol::Setting& setting = metadata.setting;
  if (options.fork_file.empty()) fork = metadata.fork;
  take_over(options.setting.pressure_gauge_Pa, setting.pressure_gauge_Pa);
  take_over(options.setting.spacers, setting.spacers);
  take_over(options.setting.temperature_K, setting.temperature_K);
  if (!options.setting.altitude_m) {
    take_over(options.setting.ambient_pressure_Pa, setting.ambient_pressure_Pa);
  }
  take_over(options.setting.vented_at_m, setting.vent.travel_m);
  take_over(options.setting.vented_pressure_Pa, setting.vent.pressure_Pa);
  take_over(options.setting.vented_temperature_K, setting.vent.temperature_K);
  if (!options.setting.pumped_temperature_K) {
    options.setting.pumped_temperature_K = setting.pumped_temperature_K;
  }
  if (!options.setting.pumped_ambient_pressure_Pa) {
    options.setting.pumped_ambient_pressure_Pa = setting.pumped_ambient_pressure_Pa;
  }
  // Saying a speed is saying another program; saying cycles changes each of its parts.
  if (!options.speed_m_s) options.program = metadata.program;
  for (protocol::SweepPart& part : options.program)
    part.cycles = options.cycles.value_or(part.cycles);
  if (!options.speed_m_s) options.speed_m_s = metadata.speed_m_s;
  take_over(options.conditioning, metadata.conditioning_cycles);
  // The record counts the cycles of all its parts.
  take_over(options.cycles, metadata.program.empty() ? std::max(1, metadata.measuring_cycles)
                                                     : metadata.program.front().cycles);
  if (!options.to_m) options.to_m = last->to_m;
  if (options.clicks.empty()) options.clicks = setting.damper_clicks;
  return {};
}

void add_stroke_options(CLI::App& app, SweepOptions& options) {
  add_quantity(app, "--speed", Dimension::speed, options.speed_m_s,
               "Of the strokes [4 mm/s, or as bench.toml says]");
  app.add_option("--cycles", options.cycles, "Measuring cycles [3]")
      ->check(CLI::Range(1, 1000))
      ->type_name("N");
  app.add_option("--conditioning", options.conditioning,
                 "Cycles before them that only settle the gas [2]")
      ->check(CLI::Range(0, 1000))
      ->type_name("N");
  app.add_option("--speeds", options.speeds,
                 "A speed series: --cycles at each in turn, such as \"1 mm/s, 4 mm/s, 16 mm/s\"")
      ->type_name("LIST");
  add_quantity(app, "--dwell", Dimension::time, options.dwell_s,
               "A staircase: rest so long at stops on the way, and at the turns");
  app.add_option("--stops", options.stops, "Stops on each stroke with --dwell [7]")
      ->check(CLI::Range(0, 100))
      ->type_name("N");
  app.add_option("--until", options.until,
                 "End early when the running fit knows enough: a quantity and its total standard "
                 "uncertainty, such as \"friction_mid_travel 2 N\"")
      ->type_name("TEXT");
  add_quantity(app, "--to", Dimension::length, options.to_m,
               "Far end of each stroke [nine tenths of the fork's travel: 146 mm of 160]");
  add_quantity(app, "--settle", Dimension::time, options.settle_s,
               "Rest at full extension before the first stroke [30 s]");
}

void add_condition_options(CLI::App& app, SweepOptions& options) {
  add_quantity(app, "--settled", Dimension::time, options.settled_s,
               "How long the fork has rested since it was pumped");
  add_quantity(app, "--room-temperature", Dimension::temperature, options.room_K,
               "Of the room, beside the fork's own");
  add_mounting_option(app, options.mounting);
  app.add_option("--clicks", options.clicks, "Damper clicks, as the fork names them")
      ->type_name("TEXT");
}

}  // namespace

Result<void> check_said(const SweepOptions& options) {
  if (options.speed_m_s && !options.speeds.empty()) {
    return Error{Errc::usage, "--speed and --speeds exclude each other; say one of them."};
  }
  if (options.again || !options.fork_file.empty()) return {};
  return Error{Errc::usage,
               "--fork is required; or --again, to repeat the last sweep of this folder."};
}

Result<std::vector<protocol::SweepPart>> make_program(const SweepOptions& options,
                                                      double usual_speed_m_s) {
  std::vector<double> speeds_m_s;
  for (const std::string& word : comma_list(options.speeds)) {
    const Result<double> speed = protocol::parse_quantity(word, Dimension::speed);
    if (!speed || !(*speed > 0.0)) {
      return Error{Errc::usage,
                   fmt::format("--speeds: '{}' is not a speed greater than nothing; say them such "
                               "as \"1 mm/s, 4 mm/s, 16 mm/s\".",
                               word)};
    }
    speeds_m_s.push_back(*speed);
  }
  if (speeds_m_s.empty() && !options.dwell_s) return options.program;
  if (speeds_m_s.empty()) speeds_m_s.push_back(usual_speed_m_s);
  std::vector<protocol::SweepPart> out;
  for (double speed_m_s : speeds_m_s) {
    out.push_back({speed_m_s, options.cycles.value_or(3), options.dwell_s.value_or(0.0),
                   options.dwell_s ? options.stops : 0});
  }
  return out;
}

Result<protocol::Fork> choose_fork(SweepOptions& options, const fs::path& records,
                                   Console& console) {
  protocol::Fork fork;
  if (!options.fork_file.empty()) {
    const Result<protocol::Fork> loaded = protocol::load_fork(options.fork_file);
    if (!loaded) return loaded.error();
    fork = *loaded;
  }
  if (options.again) {
    const Result<void> repeated = repeat_last(options, fork, records, console);
    if (!repeated) return repeated.error();
  }
  return fork;
}

void add_sweep_options(CLI::App& app, SweepOptions& options) {
  add_bench_options(app, options.bench);
  app.add_option("--fork", options.fork_file, "The fork's own file")->type_name("FORK.toml");
  add_setting_options(app, options.setting);
  add_pumped_options(app, options.setting);
  add_stroke_options(app, options);
  add_condition_options(app, options);
  app.add_flag("--again", options.again,
               "Repeat the last sweep of this folder; what is said besides wins");
  add_dry_run(app, options.dry_run);
  app.add_flag("--yes", options.yes, "Say yes to the check list and to every question");
  app.add_option("--out", options.out,
                 "The record to write, never overwritten [sweeps/NAME-NNN.csv of the workshop "
                 "folder, or NAME-NNN.csv]")
      ->type_name("RECORD.csv");
  app.add_option("--virtual-faults", options.virtual_faults,
                 "What shall go wrong in a virtual rig, such as \"unplug@20 s\"")
      ->type_name("KIND@WHEN,...");
  add_json(app, options.json);
  add_examples(app, {"springwright sweep --rig virtual:larch_plant.toml --fork forks/larch.toml "
                     "--pressure \"81 psi\" --spacers 1 --yes",
                     "springwright sweep --rig /dev/serial/by-id/usb-rig-1 --fork forks/larch.toml "
                     "--pressure \"81 psi\" --spacers 1 --to \"146 mm\" --cycles 5",
                     "springwright sweep --again --pressure \"70 psi\""});
  app.footer(app.get_footer() + "\n\n" + kSafetyWords);
}

}  // namespace controller::cli
