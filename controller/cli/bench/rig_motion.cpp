// `springwright rig home|touch|move`: the carriage by hand.
//
// Each call is a session of its own, and a session never knows where the carriage is: touch and
// move look for home first.
#include <fmt/ostream.h>

#include <cmath>

#include "controller/cli/bench/command_stop.hpp"
#include "controller/cli/bench/hand_limits.hpp"
#include "controller/cli/bench/rig_connection.hpp"
#include "controller/cli/bench/rig_options.hpp"
#include "controller/cli/bench/terminal_operator.hpp"
#include "controller/cli/safety_words.hpp"
#include "controller/host/check_list.hpp"
#include "controller/host/wire_words.hpp"
#include "protocol/record/json_fields.hpp"

namespace controller::cli {
namespace {

using protocol::Errc;
using protocol::Error;
using protocol::Json;
using protocol::Result;

using Motion = Result<Json> (*)(host::Press&, const RigOptions&, const BenchSetup&);

Result<void> agree(const RigOptions& options, const char* question, host::StopSource& stop,
                   Console& console) {
  if (options.yes) return {};
  if (!TerminalOperator::is_present(console)) {
    return Error{Errc::usage,
                 "Before the rig moves somebody at the keyboard must agree; a script says --yes."};
  }
  TerminalOperator terminal(console);
  fmt::print(console.err, "{}\n\n", kSafetyWords);
  const Result<host::CheckedOff> agreed = host::go_through({question}, terminal, stop);
  if (!agreed) return agreed.error();
  return {};
}

// What the rig would keep to, and what would be asked first.
void tell_motion(const RigOptions& options, const BenchSetup& setup, const char* question,
                 Console& console) {
  const host::PressLimits limits = hand_limits(setup);
  if (options.json) {
    console.out << protocol::json_text({{"dry_run", true},
                                        {"rig", setup.rig},
                                        {"question", question},
                                        {"force_low_N", limits.force_low_N},
                                        {"force_high_N", limits.force_high_N},
                                        {"travel_limit_mm", limits.carriage_high_m * 1e3}});
    return;
  }
  fmt::print(console.out,
             "Nothing is done. At {} this would ask:\n  {}\nand then move within {:.0f} to {:.0f} "
             "N and up "
             "to {:.0f} mm.\n",
             setup.rig, question, limits.force_low_N, limits.force_high_N,
             limits.carriage_high_m * 1e3);
}

// Connects, asks, prepares, and does it.
Result<void> run_motion(const RigOptions& options, Console& console, const char* question,
                        Motion motion) {
  const Result<BenchSetup> setup = load_bench_setup(options.bench);
  if (!setup) return setup.error();
  if (options.dry_run) {
    tell_motion(options, *setup, question, console);
    return {};
  }
  Result<RigConnection> connection = RigConnection::connect(setup->rig, {});
  if (!connection) return connection.error();
  CommandStop stop(console);
  const Result<void> agreed = agree(options, question, stop, console);
  if (!agreed) return agreed.error();
  const Result<void> open = connection->session().open();
  if (!open) return open.error();
  host::PressSettings settings;
  settings.acceleration_m_s2 = setup->bench.acceleration_m_s2;
  host::Press press(connection->session(), setup->instruments, settings, stop);
  const Result<uint16_t> old_faults = press.prepare();
  if (!old_faults) return old_faults.error();
  if (*old_faults != 0) {
    fmt::print(console.err, "Cleared old faults: {}.\n", host::fault_words(*old_faults));
  }
  const Result<void> limited = press.set_limits(hand_limits(*setup));
  if (!limited) return limited.error();
  const Result<Json> done = motion(press, options, *setup);
  if (!done) return done.error();
  if (options.json) {
    console.out << protocol::json_text(*done);
  } else {
    fmt::print(console.out, "{}\n", (*done)["text"].get<std::string>());
  }
  return {};
}

Json place(host::Press& press, int32_t steps, const std::string& what) {
  const double position_mm = press.instruments().carriage_m(steps) * 1e3;
  return {{"position_steps", steps},
          {"position_mm", position_mm},
          {"text", fmt::format("{} at {:.2f} mm from the home switch.", what, position_mm)}};
}

Result<Json> touch(host::Press& press, const RigOptions& options, const BenchSetup& setup) {
  const Result<int32_t> home = press.home();
  if (!home) return home.error();
  const Result<host::ZeroReading> zero = press.read_zero(options.readings);
  if (!zero) return zero.error();
  press.instruments().zero_counts = zero->counts;
  host::TouchPlan plan;
  plan.threshold_N = options.toward == "extension" ? -std::abs(options.threshold_N)
                                                   : std::abs(options.threshold_N);
  plan.speed_m_s = options.speed_m_s.value_or(0.002);
  plan.way_max_m = options.way_m.value_or(setup.bench.travel_max_m);
  const Result<std::optional<int32_t>> felt = press.touch(plan);
  if (!felt) return felt.error();
  if (*felt) return place(press, **felt, fmt::format("Felt {:.0f} N", plan.threshold_N));
  return Error{Errc::stopped_by_guard,
               fmt::format("Nothing was felt within {:.0f} mm.", plan.way_max_m * 1e3)};
}

Result<Json> move(host::Press& press, const RigOptions& options, const BenchSetup& setup) {
  Result<void> moved;
  if (options.by_m) {
    const double steps = *options.by_m * press.instruments().steps_per_m();
    moved = press.jog(static_cast<int32_t>(std::lround(steps)));
  } else {
    const Result<int32_t> home = press.home();
    if (!home) return home.error();
    const Result<int32_t> target = press.instruments().steps_at(*options.to_m);
    if (!target) return target.error();
    moved = press.move_to(*target, options.speed_m_s.value_or(setup.bench.speed_m_s));
  }
  if (!moved) return moved.error();
  return place(press, press.newest()->position_steps, "The carriage stands");
}

}  // namespace

Result<void> run_rig_home(const RigOptions& options, Console& console) {
  return run_motion(options, console,
                    "The press is clear, the axle clamp is open, and the carriage may go home.",
                    [](host::Press& press, const RigOptions&, const BenchSetup&) -> Result<Json> {
                      const Result<int32_t> home = press.home();
                      if (!home) return home.error();
                      return place(press, *home, "Home; the carriage rests");
                    });
}

Result<void> run_rig_touch(const RigOptions& options, Console& console) {
  return run_motion(options, console,
                    "The press is clear, and the carriage may go home and then touch.", touch);
}

Result<void> run_rig_move(const RigOptions& options, Console& console) {
  if (options.to_m.has_value() == options.by_m.has_value()) {
    return Error{Errc::usage,
                 "Give --to, a position from the home switch, or --by, a way of at most 5 mm."};
  }
  constexpr double kByMax_m = 0.005;
  if (options.by_m && std::abs(*options.by_m) > kByMax_m) {
    return Error{Errc::usage,
                 fmt::format("--by goes at most {:.0f} mm at a time; {:.1f} mm is too far.",
                             kByMax_m * 1e3, *options.by_m * 1e3)};
  }
  return run_motion(options, console, "The press is clear, and the carriage may move.", move);
}

}  // namespace controller::cli
