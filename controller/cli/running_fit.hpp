// The fit while the sweep runs: after every stroke the rows so far are fitted anew, a line says
// what is known by then, and the sweep may end when enough is.
//
// The fit runs in a thread of its own, since the one that calls keeps the rig's heartbeat. When a
// stroke ends before the fit of the last one has, that fit is the next to come; strokes in between
// are skipped, never queued.
#pragma once

#include <condition_variable>
#include <mutex>
#include <optional>
#include <string>
#include <thread>

#include "controller/cli/commands.hpp"
#include "controller/host/sweep_observer.hpp"
#include "fitting/model/fitted_model.hpp"
#include "protocol/record/sweep_record.hpp"

namespace controller::cli {

// "positive_volume 1 %" or "friction_mid_travel 0.5 N": a total standard uncertainty.
struct Enough {
  std::string name;
  double value = 0.0;
  std::string unit;  // "%" of the value, or the parameter's own
};

// ERRORS: usage.
protocol::Result<Enough> parse_enough(const std::string& text);

class RunningFit final : public host::SweepObserver, public host::StopPredicate {
 public:
  // about: the record's metadata, as far as a fit needs them. The console is written to from the
  // fit's thread.
  RunningFit(const protocol::Metadata& about, int planned_strokes, std::optional<Enough> enough,
             Console& console);
  ~RunningFit() override;

  void row(const protocol::RecordRow& row) override;
  void stroke_done(const host::StrokeEnd& end) override;
  // What the last finished fit says: this never waits for one.
  bool enough(int measured_cycles) override;

 private:
  void work();
  void tell(const fitting::FittedModel& model, int stroke);
  bool reached(const fitting::FittedModel& model) const;

  int planned_strokes_;
  std::optional<Enough> wanted_;
  Console& console_;
  protocol::SweepRecord record_;  // of the calling thread

  std::mutex mutex_;
  std::condition_variable changed_;
  std::optional<protocol::SweepRecord> waiting_;  // to be fitted next
  int waiting_stroke_ = 0;
  bool reached_ = false;
  bool over_ = false;
  std::thread worker_;
};

}  // namespace controller::cli
