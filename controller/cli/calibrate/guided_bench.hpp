// Where a guided calibration meets the bench: a person at the keyboard, a rig that must be looked
// after meanwhile, a session that says what comes next, and its journal.
#pragma once

#include <chrono>
#include <deque>
#include <optional>
#include <string>

#include "calibration/guided/journal.hpp"
#include "controller/cli/calibrate/calibration_rig.hpp"
#include "controller/cli/calibrate/guided_keyboard.hpp"

namespace controller::cli {

class GuidedBench final : private host::SampleListener {
 public:
  // What is passed in must outlive the bench.
  GuidedBench(Console& console, CalibrationRig& rig, calibration::GuidedSession& session,
              calibration::SessionJournal& journal)
      : console_(console), keyboard_(console), rig_(rig), session_(session), journal_(journal) {}

  // From the next step to the last. ERRORS: stopped_by_operator where they quit; of rig and
  // journal.
  protocol::Result<void> run();

 private:
  protocol::Result<void> run_force();
  protocol::Result<void> run_travel();
  protocol::Result<void> run_frame();

  // A whole line. ERRORS: stopped_by_operator where the keyboard is gone; of the rig.
  protocol::Result<std::string> ask(bool with_reading);
  // RETURNS whether the line was a command, which is then done. ERRORS: where the operator quits.
  protocol::Result<bool> obey(const std::string& line);
  protocol::Result<void> tell(const protocol::Result<calibration::GuidedEvent>& done,
                              const std::string& words);
  protocol::Result<void> tell(const calibration::Outcome& outcome);
  void say(const std::string& text);
  void say_prompt();
  void say_help();

  protocol::Result<void> take(const host::TimedSample& sample) override;
  void show_live();

  using ReadingOf = std::function<double(const host::TimedSample&)>;
  // Once it stands still or patience is at an end.
  protocol::Result<std::vector<calibration::WindowSample>> steady_window(const ReadingOf& reading);
  // To practise with, on a virtual rig.
  protocol::Result<std::vector<calibration::WindowSample>> shaken_window(const ReadingOf& reading);
  protocol::Result<void> read_force(std::optional<double> typed);
  // RETURNS what was typed or, where nothing was, `offered`; empty: not a number, which was said.
  std::optional<double> typed_value(const std::string& line, std::optional<double> offered);
  void hang(double load);

  protocol::Result<void> go_home(virtual_rig::Fixture fixture, const std::string& question);
  protocol::Result<void> read_place();
  protocol::Result<void> find_contact();
  protocol::Result<void> press_to_load();
  double dial_mm();

  Console& console_;
  GuidedKeyboard keyboard_;
  CalibrationRig& rig_;
  calibration::GuidedSession& session_;
  calibration::SessionJournal& journal_;

  std::deque<calibration::WindowSample> recent_;
  std::chrono::steady_clock::time_point shown_at_{};

  std::optional<double> hung_;  // a load to practise with, other than the one asked for
  bool knocked_ = false;
  double hanging_ = 0.0;
  int32_t home_steps_ = 0;
  double dial_zero_m_ = 0.0;
  struct Contact {
    int series = 0;
    int32_t steps = 0;
    double force_N = 0.0;
  };
  std::optional<Contact> contact_;
};

}  // namespace controller::cli
