// What others may see of a sweep while it runs, and the one thing that they may decide.
//
// Called from the thread that keeps the rig's heartbeat: return soon.
#pragma once

#include <string>

#include "protocol/record/record_writer.hpp"

namespace controller::host {

struct StrokeEnd {
  int stroke = 0;             // as numbered in the record
  bool compression = false;   // travel grew
  bool conditioning = false;  // it only settled the gas
};

class SweepObserver {
 public:
  virtual ~SweepObserver() = default;
  // A row as it was recorded.
  virtual void row(const protocol::RecordRow& row) = 0;
  // The rows of the stroke are on the disk.
  virtual void stroke_done(const StrokeEnd& end) = 0;
};

// Says when enough has been measured, such as when cycles repeat within their noise.
class StopPredicate {
 public:
  virtual ~StopPredicate() = default;
  // Asked after each measuring cycle but the last.
  virtual bool enough(int measured_cycles) = 0;
  // Asked when it was enough: for whoever reads the record, and wonders where the rest is.
  virtual std::string why() const { return "What was wanted was known."; }
};

}  // namespace controller::host
