#include "controller/cli/calibrate/guided_bench.hpp"

#include <fmt/ostream.h>

#include <algorithm>
#include <cmath>

namespace controller::cli {

using calibration::GuidedEvent;
using calibration::Kind;
using calibration::LoadUnit;
using calibration::Outcome;
using calibration::Stability;
using calibration::WindowSample;
using protocol::Errc;
using protocol::Error;
using protocol::Result;

namespace {

constexpr int kWindowsMax = 6;  // so long a reading may take to stand still
constexpr auto kShowEvery = std::chrono::milliseconds(200);

// "15 kg", or "15" in the plan's unit.
Result<double> parse_load(const std::string& text, LoadUnit unit) {
  const std::string plain{protocol::trimmed(text)};
  if (const Result<double> number = protocol::parse_number(plain)) return *number;
  const protocol::Dimension dimension = unit == LoadUnit::kilogram ? protocol::Dimension::mass
                                        : unit == LoadUnit::newton ? protocol::Dimension::force
                                                                   : protocol::Dimension::length;
  const Result<double> value = protocol::parse_quantity(plain, dimension);
  if (!value) return value.error();
  return protocol::in_unit(*value, calibration::load_unit_name(unit));
}

std::string bar(double unsteadiness) {
  constexpr int kLength = 10;
  const auto full =
      static_cast<int>(std::clamp(kLength / std::max(unsteadiness, 0.1), 0.0, double{kLength}));
  return std::string(static_cast<size_t>(full), '#') +
         std::string(static_cast<size_t>(kLength - full), '.');
}

}  // namespace

Result<void> GuidedBench::run() {
  switch (session_.plan().kind) {
    case Kind::force:
      return run_force();
    case Kind::travel:
      return run_travel();
    case Kind::frame:
      return run_frame();
  }
  ENSURE(false);
}

// --- Talking ------------------------------------------------------------------------------------

void GuidedBench::say(const std::string& text) {
  keyboard_.clear();
  fmt::print(console_.err, "{}\n", text);
  console_.err.flush();
}

void GuidedBench::say_prompt() {
  const calibration::Prompt prompt = session_.prompt();
  say(fmt::format("\n[{}/{}] {}", prompt.step, prompt.steps, prompt.text));
}

void GuidedBench::say_help() {
  say("  Enter  do it, or take the reading   u  undo the last step    s  leave this load out\n"
      "  r      repeat the series            q  stop here for now     h  these words");
  if (session_.plan().unit == LoadUnit::kilogram) {
    say("  use 15 kg   takes the reading that was just refused as that of 15 kg");
  }
  if (rig_.is_virtual() && session_.plan().kind == Kind::force) {
    say(
        fmt::format("  On a virtual rig Enter also hangs the load that is asked for. To practise: "
                    "\"hang 3 {}\"\n  hangs another one, \"knock\" shakes the bench.",
                    calibration::load_unit_name(session_.plan().unit)));
  }
}

Result<void> GuidedBench::take(const host::TimedSample& sample) {
  const double time_s = static_cast<double>(sample.time_us) * 1e-6;
  recent_.push_back({time_s, static_cast<double>(sample.load_counts)});
  while (recent_.front().time_s < time_s - kCalibrationWindow_s) recent_.pop_front();
  return {};
}

void GuidedBench::show_live() {
  const auto now = std::chrono::steady_clock::now();
  if (!keyboard_.is_live() || now - shown_at_ < kShowEvery) return;
  shown_at_ = now;
  const Stability stability =
      calibration::judge_stability({recent_.begin(), recent_.end()}, session_.stability_rules());
  keyboard_.show(fmt::format("{:12.0f} counts [{}] {} ", stability.mean,
                             bar(stability.unsteadiness),
                             stability.is_stable() ? "steady  " : "unsteady"));
}

Result<std::string> GuidedBench::ask(bool with_reading) {
  std::optional<std::string> line;
  recent_.clear();
  if (!with_reading) keyboard_.show("");
  rig_.press().set_listener(this);
  // Not by std::cin: while it waits neither the heartbeat nor Ctrl-C would get through.
  const Result<void> waited = rig_.press().wait_until([&] {
    line = keyboard_.poll_line();
    if (!line && with_reading) show_live();
    return line || keyboard_.is_gone();
  });
  rig_.press().set_listener(nullptr);
  keyboard_.clear();
  if (!waited) return waited.error();
  if (!line) return Error{Errc::stopped_by_operator, "Nobody is at the keyboard any more."};
  return std::string(protocol::trimmed(*line));
}

Result<void> GuidedBench::tell(const Result<GuidedEvent>& done, const std::string& words) {
  if (!done) {
    say(done.error().message);
    return {};
  }
  say(words);
  contact_.reset();
  return journal_.append(*done);
}

Result<void> GuidedBench::tell(const Outcome& outcome) {
  say((outcome.accepted ? "  " : "  Not taken. ") + outcome.text);
  if (!outcome.event) return {};
  return journal_.append(*outcome.event);
}

Result<bool> GuidedBench::obey(const std::string& line) {
  const auto follows = [&](std::string_view word) { return line.rfind(word, 0) == 0; };
  Result<void> done;
  if (line == "q") return Error{Errc::stopped_by_operator, "Stopped for now."};
  if (line == "h" || line == "?") {
    say_help();
  } else if (line == "u") {
    done = tell(session_.undo(), "  The last step is undone.");
  } else if (line == "s") {
    done = tell(session_.skip(), "  Left out; the certificate will say so.");
  } else if (line == "r") {
    done = tell(session_.repeat_series(), "  The series begins anew.");
  } else if (follows("use ")) {
    const Result<double> load = parse_load(line.substr(4), session_.plan().unit);
    if (load) {
      done = tell(session_.use(*load));
    } else {
      say(load.error().message);
    }
  } else if (rig_.is_virtual() && follows("hang ")) {
    const Result<double> load = parse_load(line.substr(5), session_.plan().unit);
    if (load) {
      hung_ = *load;
      hang(*load);
      say(fmt::format("  {} hang on the cell.",
                      calibration::load_text(*load, session_.plan().unit)));
    } else {
      say(load.error().message);
    }
  } else if (rig_.is_virtual() && line == "knock") {
    knocked_ = true;
    say("  The bench will shake at the next reading.");
  } else {
    return false;
  }
  if (!done) return done.error();
  return true;
}

std::optional<double> GuidedBench::typed_value(const std::string& line,
                                               std::optional<double> offered) {
  if (line.empty() && offered) return offered;
  const LoadUnit unit = session_.plan().unit;
  const Result<double> value = parse_load(line, unit);
  if (value) return *value;
  say(line.empty()
          ? fmt::format("Type what the standard shows, in {}.", calibration::load_unit_name(unit))
          : fmt::format("'{}' is neither a number nor a key; h shows the keys.", line));
  return std::nullopt;
}

// --- Force --------------------------------------------------------------------------------------

void GuidedBench::hang(double load) {
  hanging_ = load;
  const bool is_mass = session_.plan().unit == LoadUnit::kilogram;
  rig_.hang_N(is_mass ? load * protocol::kStandardGravity_m_s2 : load);
}

Result<std::vector<WindowSample>> GuidedBench::shaken_window(const ReadingOf& reading) {
  const double calm = hanging_;
  std::vector<WindowSample> window;
  for (const double sign : {1.0, -1.0}) {
    hang(calm + 0.1 * sign * calibration::smallest_step(session_.plan()));
    const auto half = rig_.window(0.5 * kCalibrationWindow_s, reading);
    if (!half) return half.error();
    window.insert(window.end(), half->begin(), half->end());
  }
  hang(calm);
  return window;
}

Result<std::vector<WindowSample>> GuidedBench::steady_window(const ReadingOf& reading) {
  if (const auto settled = rig_.press().rest(kCalibrationSettle_s); !settled)
    return settled.error();
  std::vector<WindowSample> window;
  for (int i = 0; i < kWindowsMax; ++i) {
    auto read = knocked_ ? shaken_window(reading) : rig_.window(kCalibrationWindow_s, reading);
    if (!read) return read.error();
    window = std::move(read).value();
    const Stability stability = calibration::judge_stability(window, session_.stability_rules());
    if (stability.is_stable()) break;
    keyboard_.show("  " + stability.reason + " ");
  }
  keyboard_.clear();
  knocked_ = false;
  return window;
}

Result<void> GuidedBench::read_force(std::optional<double> typed) {
  if (rig_.is_virtual()) hang(hung_.value_or(session_.prompt().asked.load));
  const auto window = steady_window(counts_of);
  if (!window) return window.error();
  hung_.reset();
  return tell(session_.accept(*window, typed));
}

Result<void> GuidedBench::run_force() {
  say_help();
  while (!session_.is_done()) {
    say_prompt();
    const Result<std::string> line = ask(true);
    if (!line) return line.error();
    const Result<bool> obeyed = obey(*line);
    if (!obeyed) return obeyed.error();
    if (*obeyed) continue;
    std::optional<double> typed;
    if (calibration::is_typed(session_.plan())) {
      std::optional<double> offered;
      if (rig_.is_virtual()) offered = hung_.value_or(session_.prompt().asked.load);
      typed = typed_value(*line, offered);
      if (!typed) continue;
    } else if (!line->empty()) {
      say(fmt::format("'{}' is not a key here; h shows the keys.", *line));
      continue;
    }
    if (const Result<void> read = read_force(typed); !read) return read.error();
  }
  return {};
}

}  // namespace controller::cli
