// How far a sweep is, on one line of a terminal; nothing where there is none.
#pragma once

#include "controller/cli/commands.hpp"
#include "controller/host/progress.hpp"

namespace controller::cli {

class ProgressBar final : public host::ProgressSink {
 public:
  explicit ProgressBar(Console& console) : console_(console) {}
  ~ProgressBar() override { clear(); }
  void show(const host::Progress& progress) override;
  // Takes the line away.
  void clear();

 private:
  Console& console_;
  bool shown_ = false;
};

// "[########            ]  40 %  measuring, cycle 1 of 3, 1 min 20 s left"
std::string progress_line(const host::Progress& progress);

}  // namespace controller::cli
