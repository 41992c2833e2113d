// A guided calibration as a machine of steps: says what to do next, takes a reading or refuses it
// with the reason, and ends as a ReadingSet.
//
// Pure: no clock and no I/O. Whoever draws it (a terminal, a page) shows prompt(), brings windows
// of samples to accept(), and keeps each event that comes back (journal.hpp). The state is what the
// events make of the plan, so that replaying them is resuming.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "calibration/guided/load_judge.hpp"
#include "calibration/guided/plan.hpp"
#include "calibration/guided/stability.hpp"

namespace calibration {

// What happened, as far as it changed the state.
struct GuidedEvent {
  enum class What { take, skip, undo, repeat_series };
  What what = What::take;
  // Of a take:
  double load = 0.0;     // as put on or typed, in the plan's unit; a frame's: N as pressed
  double reading = 0.0;  // counts or steps; a frame's: its deflection in metres
  double noise = 0.0;    // standard deviation of one sample in the window
};

struct Prompt {
  std::string text;  // "Series 1 of 3, up: put on 10 kg in all (add 5 kg)."
  int step = 0;      // from 1
  int steps = 0;
  GuidedStep asked;
  bool can_skip = false;
  bool can_undo = false;
};

struct Outcome {
  bool accepted = false;
  Refusal why = Refusal::none;
  std::string text;                  // what was taken, or the reason against it
  std::optional<double> can_use;     // use() of this load would take it as it is
  std::optional<GuidedEvent> event;  // where accepted
};

class GuidedSession {
 public:
  // ERRORS: as check_plan().
  static protocol::Result<GuidedSession> start(const GuidedPlan& plan);

  const GuidedPlan& plan() const { return plan_; }
  bool is_done() const { return entries_.size() == steps_.size(); }
  // REQUIRES: not done.
  Prompt prompt() const;
  // How the next window will be judged; for a live display too.
  StabilityRules stability_rules() const;

  // REQUIRES: not done. typed: what the standard shows, where the plan is_typed().
  Outcome accept(const std::vector<WindowSample>& window, std::optional<double> typed = {});
  // Takes the window that was refused last as that of this load. The stated order must hold.
  Outcome use(double load);
  // A frame's step: the window is of the force in N, and tells whether it stood still.
  Outcome accept_deflection(const std::vector<WindowSample>& window_N, double deflection_m);

  // ERRORS: input_out_of_range with the reason.
  protocol::Result<GuidedEvent> skip();
  protocol::Result<GuidedEvent> undo();
  protocol::Result<GuidedEvent> repeat_series();

  // Does again what was done before. ERRORS: input_malformed where it cannot have been.
  protocol::Result<void> apply(const GuidedEvent& event);

  int taken() const;
  int skipped() const { return static_cast<int>(entries_.size()) - taken(); }
  int steps() const { return static_cast<int>(steps_.size()); }

  // What was taken so far, with a remark for each load left out or put on otherwise. Particulars
  // are the caller's.
  ReadingSet readings() const;

 private:
  struct Entry {
    bool is_taken = false;
    double load = 0.0;
    double reading = 0.0;
    double noise = 0.0;
  };

  const GuidedStep& asked() const { return steps_[entries_.size()]; }
  const Entry* last_taken_of_series() const;
  std::string step_words(const GuidedStep& step) const;
  std::string out_of_order(double load) const;
  std::vector<LoadReading> loads_taken() const;
  Outcome judge(const Stability& stability, double load, bool is_insisted);
  Outcome take(double load, double reading, double noise);
  Outcome refuse(Refusal why, std::string text) const;

  GuidedPlan plan_;
  std::vector<GuidedStep> steps_;
  std::vector<Entry> entries_;        // one for each step so far
  std::optional<Stability> refused_;  // the steady window that was refused last
};

}  // namespace calibration
