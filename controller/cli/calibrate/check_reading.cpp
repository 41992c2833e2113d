#include "controller/cli/calibrate/check_reading.hpp"

#include <fmt/ostream.h>

#include "controller/cli/bench/command_stop.hpp"
#include "controller/cli/bench/terminal_operator.hpp"
#include "controller/cli/calibrate/calibration_rig.hpp"
#include "controller/cli/safety_words.hpp"
#include "controller/host/top_out.hpp"

namespace controller::cli {

using protocol::Errc;
using protocol::Error;
using protocol::Result;

namespace {

constexpr int kZeroSamples = 80;

Result<void> ask_and_wait(host::Press& press, const std::string& what, Console& console) {
  TerminalOperator terminal(console);
  return host::wait_for(press, terminal, what, "Stopped at the keyboard; no check was made.");
}

}  // namespace

Result<CheckReading> read_check(const std::string& rig, const std::string& certificate,
                                double load_N, const std::string& load_words, Console& console) {
  BenchOptions bench;
  bench.rig = rig;
  bench.force_calibration = certificate;
  const Result<BenchSetup> setup = load_bench_setup(bench);
  if (!setup) return setup.error();
  if (!setup->rig_is_virtual() && !TerminalOperator::is_present(console)) {
    return Error{Errc::usage,
                 "Somebody must hang the weight and say so at the keyboard; a script reads by "
                 "itself and says --counts and --zero-counts."};
  }
  CommandStop stop(console);
  const auto opened = CalibrationRig::open(*setup, stop);
  if (!opened) return opened.error();
  CalibrationRig& bench_rig = **opened;
  if (bench_rig.is_virtual()) {
    bench_rig.hang_N(0.0);  // in place of the fork
  } else {
    fmt::print(console.err, "{}\n\n", kSafetyWords);
    const Result<void> empty = ask_and_wait(bench_rig.press(), "Is the cell unloaded?", console);
    if (!empty) return empty.error();
  }
  if (const Result<void> settled = bench_rig.press().rest(kCalibrationSettle_s); !settled) {
    return settled.error();
  }
  const Result<host::ZeroReading> zero = bench_rig.press().read_zero(kZeroSamples);
  if (!zero) return zero.error();
  if (bench_rig.is_virtual()) {
    bench_rig.hang_N(load_N);
  } else {
    const Result<void> on = ask_and_wait(
        bench_rig.press(),
        fmt::format("Put on {}. Does it hang still, with nobody touching it?", load_words),
        console);
    if (!on) return on.error();
  }
  const Result<double> counts = bench_rig.mean_counts();
  if (!counts) return counts.error();
  return CheckReading{zero->counts, *counts};
}

}  // namespace controller::cli
