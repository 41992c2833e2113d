// Samples to rows: unrolled time, travel and force by the instruments in use, raw steps and counts
// beside them, into a record writer. When it closes the record it adds what the line lost.
#pragma once

#include <filesystem>
#include <memory>

#include "controller/host/press.hpp"
#include "controller/host/sweep_observer.hpp"
#include "protocol/record/record_writer.hpp"

namespace controller::host {

class Recorder final : public SampleListener {
 public:
  // The files and the press must outlive the recorder; `observer` may be null. ERRORS:
  // output_exists, write_failed.
  static protocol::Result<std::unique_ptr<Recorder>> create(protocol::FileSystem& files,
                                                            const std::filesystem::path& path,
                                                            const protocol::Metadata& metadata,
                                                            Press& press, SweepObserver* observer);

  void begin_stroke(int stroke) { stroke_ = stroke; }
  protocol::Result<void> take(const TimedSample& sample) override;
  // On the disk, and told to the observer.
  protocol::Result<void> end_stroke(const StrokeEnd& end);

  protocol::Metadata& metadata() { return writer_->metadata(); }
  uint64_t rows() const { return writer_->rows(); }
  double largest_force_N() const { return largest_force_N_; }

  // The last row was taken: what the line loses from now on concerns no row.
  void end_rows();
  // After end_rows or without it. `reason` empty: complete.
  protocol::Result<void> close(const std::string& reason);

 private:
  Recorder(std::unique_ptr<protocol::RecordWriter> writer, Press& press, SweepObserver* observer);
  void note_losses();

  std::unique_ptr<protocol::RecordWriter> writer_;
  Press& press_;
  SweepObserver* observer_;
  protocol::LineCounters counters_before_;
  std::optional<int64_t> first_us_;
  int64_t created_us_;
  int stroke_ = 0;
  double largest_force_N_ = 0.0;
  bool rows_ended_ = false;
};

}  // namespace controller::host
