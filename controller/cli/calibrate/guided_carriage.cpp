// The kinds of a guided calibration in which the carriage moves: travel beside a dial or gauge
// blocks, and the frame's give against a rigid block.
#include <fmt/format.h>

#include <cmath>

#include "controller/cli/calibrate/approach.hpp"
#include "controller/cli/calibrate/guided_bench.hpp"

namespace controller::cli {

using calibration::WindowSample;
using protocol::Errc;
using protocol::Error;
using protocol::Result;
using virtual_rig::Fixture;

// Asks once before anything moves.
Result<void> GuidedBench::go_home(Fixture fixture, const std::string& question) {
  say(question + " Press Enter when that is so.");
  for (;;) {
    const Result<std::string> line = ask(false);
    if (!line) return line.error();
    if (line->empty()) break;
    if (*line == "q" || *line == "n") {
      return Error{Errc::stopped_by_operator, "Stopped before anything moved."};
    }
    say("Enter: yes, the rig may move. q: stop here.");
  }
  if (rig_.is_virtual()) {
    rig_.with_rig([&](virtual_rig::VirtualRig& rig) { rig.set_fixture(fixture); });
  }
  const Result<int32_t> home = rig_.press().home();
  if (!home) return home.error();
  home_steps_ = *home;
  return {};
}

// --- Travel -------------------------------------------------------------------------------------

double GuidedBench::dial_mm() {
  double dial_m = 0.0;
  rig_.with_rig([&](virtual_rig::VirtualRig& rig) { dial_m = rig.dial_m(); });
  // A dial indicator shows thousandths of a millimetre.
  return std::round((dial_m - dial_zero_m_) * 1e6) * 1e-3 + 0.0;  // never -0
}

Result<void> GuidedBench::run_travel() {
  const Result<void> home =
      go_home(Fixture::nothing,
              "The press is empty, its guard is closed, hands are clear, and the carriage may go "
              "home and then from place to place.");
  if (!home) return home.error();
  if (rig_.is_virtual()) dial_zero_m_ += dial_mm() * 1e-3;
  say("The carriage is home: set the dial to zero here. Before each move keep hands clear.");
  say_help();
  while (!session_.is_done()) {
    say_prompt();
    say("  Enter: the carriage moves there.");
    const Result<std::string> line = ask(false);
    if (!line) return line.error();
    const Result<bool> obeyed = obey(*line);
    if (!obeyed) return obeyed.error();
    if (*obeyed) continue;
    if (!line->empty()) {
      say(fmt::format("'{}' is not a key here; h shows the keys.", *line));
      continue;
    }
    const calibration::GuidedStep asked = session_.prompt().asked;
    const double place_m = asked.load * 1e-3;
    const auto steps = static_cast<int32_t>(
        home_steps_ + std::lround(place_m * rig_.press().instruments().steps_per_m()));
    const Result<void> moved =
        approach(rig_.press(), steps, asked.direction, kCalibrationSpeed_m_s);
    if (!moved) return moved.error();
    if (const Result<void> read = read_place(); !read) return read.error();
  }
  return {};
}

// The carriage stands; until its place is typed, or the operator goes another way.
Result<void> GuidedBench::read_place() {
  const int step = session_.prompt().step;
  const auto steps_of = [this](const host::TimedSample& sample) -> double {
    return sample.position_steps - home_steps_;
  };
  while (!session_.is_done() && session_.prompt().step == step) {
    std::optional<double> offered;
    if (rig_.is_virtual()) offered = dial_mm();
    say(offered ? fmt::format("  What does the dial show, in mm? [{:.3f}]", *offered)
                : std::string("  What does the dial show, in mm?"));
    const Result<std::string> line = ask(false);
    if (!line) return line.error();
    const Result<bool> obeyed = obey(*line);
    if (!obeyed) return obeyed.error();
    if (*obeyed) continue;
    const std::optional<double> typed = typed_value(*line, offered);
    if (!typed) continue;
    const auto window = steady_window(steps_of);
    if (!window) return window.error();
    if (const auto told = tell(session_.accept(*window, typed)); !told) return told.error();
  }
  return {};
}

// --- Frame --------------------------------------------------------------------------------------

Result<void> GuidedBench::run_frame() {
  const Result<void> home =
      go_home(Fixture::block,
              "The rigid block stands in the fork's place, the guard is closed, hands are clear, "
              "and the rig may go home and then press.");
  if (!home) return home.error();
  const Result<double> zero = rig_.mean_counts();
  if (!zero) return zero.error();
  rig_.press().instruments().zero_counts = *zero;
  say_help();
  bool ask_first = true;
  while (!session_.is_done()) {
    const int taken = session_.taken();
    const int series = session_.prompt().asked.series;
    if (ask_first || !contact_ || contact_->series != series) {
      say_prompt();
      say("  Hands clear? Enter: the rig presses, load by load to the end of the series.");
      const Result<std::string> line = ask(false);
      if (!line) return line.error();
      const Result<bool> obeyed = obey(*line);
      if (!obeyed) return obeyed.error();
      if (*obeyed || !line->empty()) continue;
      if (const Result<void> found = find_contact(); !found) return found.error();
    }
    if (const Result<void> pressed = press_to_load(); !pressed) return pressed.error();
    ask_first = session_.taken() == taken;
  }
  if (const auto back = rig_.press().move_to(home_steps_, kCalibrationSpeed_m_s); !back)
    return back.error();
  return {};
}

// From home, so that each series comes the same way.
Result<void> GuidedBench::find_contact() {
  host::Press& press = rig_.press();
  if (const auto back = press.move_to(home_steps_, kCalibrationSpeed_m_s); !back)
    return back.error();
  const double way_m = kCalibrationTouchWay_m;
  const auto touched = press.touch({kBlockContact_N, kCalibrationTouchSpeed_m_s, way_m});
  if (!touched) return touched.error();
  if (!*touched) {
    return Error{Errc::stopped_by_guard,
                 fmt::format("The block was not felt within {:.0f} mm of home. Put it in the "
                             "fork's place, under the carriage.",
                             way_m * 1e3)};
  }
  const Result<double> counts = rig_.mean_counts();
  if (!counts) return counts.error();
  contact_ = Contact{session_.prompt().asked.series, press.newest()->position_steps,
                     press.instruments().force_N(*counts)};
  return {};
}

Result<void> GuidedBench::press_to_load() {
  host::Press& press = rig_.press();
  const double load_N = session_.prompt().asked.load;
  // A load of nothing is the contact itself, and says nothing of the frame.
  const double threshold_N = std::max(load_N, 2.0 * kBlockContact_N);
  const auto touched =
      press.touch({threshold_N, kCalibrationTouchSpeed_m_s, kCalibrationTouchWay_m});
  if (!touched) return touched.error();
  if (!*touched) {
    return Error{Errc::stopped_by_guard,
                 fmt::format("{:.0f} N were not reached within {:.0f} mm. Does the block stand "
                             "firmly?",
                             threshold_N, kCalibrationTouchWay_m * 1e3)};
  }
  const auto window = steady_window([&](const host::TimedSample& sample) {
    return press.instruments().force_N(sample.load_counts) - contact_->force_N;
  });
  if (!window) return window.error();
  const double way_m =
      (press.newest()->position_steps - contact_->steps) / press.instruments().steps_per_m();
  return tell(session_.accept_deflection(*window, way_m));
}

}  // namespace controller::cli
