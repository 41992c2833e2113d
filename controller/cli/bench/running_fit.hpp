// The fit while the sweep runs: after every stroke the rows so far are fitted anew, a line says
// what is known by then, and the sweep may end when enough is.
//
// The fit runs in a thread of its own, since the one that calls keeps the rig's heartbeat. Whatever
// is told is told in the thread that calls. When a stroke ends before the fit of the last one has,
// the newest is the next to come; strokes in between are skipped, never queued.
#pragma once

#include <atomic>
#include <condition_variable>
#include <functional>
#include <mutex>
#include <optional>
#include <string>
#include <thread>
#include <vector>

#include "controller/cli/bench/enough.hpp"
#include "controller/host/sweep_observer.hpp"
#include "protocol/record/sweep_record.hpp"

namespace controller::cli {

struct RunningFitPlan {
  int strokes = 0;  // for "stroke 4 of 10"
  std::optional<Enough> enough;
  // Only for a rig whose time stands still while the host is busy: with it the sweep ends at the
  // same cycle on every computer. Of a real rig the fit of a stroke is over before the next is.
  bool waits_for_fit = false;
};

class RunningFit final : public host::SweepObserver, public host::StopPredicate {
 public:
  // about: the record's metadata, as far as a fit needs them. tell: takes one line.
  RunningFit(const protocol::Metadata& about, RunningFitPlan plan,
             std::function<void(const std::string&)> tell);
  // Leaves undone what is not begun.
  ~RunningFit() override;
  RunningFit(const RunningFit&) = delete;
  RunningFit& operator=(const RunningFit&) = delete;

  void row(const protocol::RecordRow& row) override;
  void stroke_done(const host::StrokeEnd& end) override;
  // By the newest fit there is.
  bool enough(int measured_cycles) override;
  std::string why() const override;
  // Waits for the fit of the last stroke, and tells it.
  void finish();

 private:
  struct Told {
    std::string line;
    bool reached = false;
    std::string how_well;  // what is wanted is known
  };

  void work();
  Told fit(const protocol::SweepRecord& record, int stroke) const;
  void wait_for_fit();
  void pass_on();

  const RunningFitPlan plan_;
  const std::function<void(const std::string&)> tell_;
  // Of the calling thread.
  protocol::SweepRecord record_;
  bool reached_ = false;
  std::string how_well_;

  std::mutex mutex_;  // over what follows
  std::condition_variable changed_;
  std::optional<protocol::SweepRecord> waiting_;  // to be fitted next
  int waiting_stroke_ = 0;
  bool busy_ = false;
  bool over_ = false;
  std::vector<Told> news_;
  std::atomic<bool> has_news_{false};
  std::thread worker_;
};

}  // namespace controller::cli
