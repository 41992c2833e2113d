#include "controller/host/recorder.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace controller::host {
namespace {

using protocol::LineCounters;
using protocol::Result;

double seconds(HostTime time) {
  return std::chrono::duration<double>(time).count();
}

LineCounters difference(const LineCounters& after, const LineCounters& before) {
  return {after.frames - before.frames, after.bad_frames - before.bad_frames,
          after.resync_bytes - before.resync_bytes, after.lost_samples - before.lost_samples,
          after.late_replies - before.late_replies};
}

}  // namespace

Recorder::Recorder(std::unique_ptr<protocol::RecordWriter> writer, Press& press,
                   SweepObserver* observer)
    : writer_(std::move(writer)),
      press_(press),
      observer_(observer),
      counters_before_(press.session().counters()),
      created_us_(press.session().device_time_us()) {}

Result<std::unique_ptr<Recorder>> Recorder::create(protocol::FileSystem& files,
                                                   const std::filesystem::path& path,
                                                   const protocol::Metadata& metadata, Press& press,
                                                   SweepObserver* observer) {
  Result<std::unique_ptr<protocol::RecordWriter>> writer =
      protocol::RecordWriter::create(files, path, metadata, {}, seconds(press.session().now()));
  if (!writer) return writer.error();
  return std::unique_ptr<Recorder>(new Recorder(std::move(writer).value(), press, observer));
}

Result<void> Recorder::take(const TimedSample& sample) {
  if (!first_us_) first_us_ = sample.time_us;
  const Instruments& instruments = press_.instruments();
  protocol::RecordRow row;
  row.time_s = static_cast<double>(sample.time_us - *first_us_) / 1e6;
  row.stroke = stroke_;
  row.force_N = instruments.force_N(sample.load_counts);
  row.travel_m = instruments.travel_m(sample.position_steps, row.force_N);
  row.raw_steps = sample.position_steps;
  row.raw_counts = sample.load_counts;
  largest_force_N_ = std::max(largest_force_N_, std::abs(row.force_N));
  const Result<void> done = writer_->append(row, seconds(sample.arrived));
  if (done && observer_) observer_->row(row);
  return done;
}

Result<void> Recorder::end_stroke(const StrokeEnd& end) {
  const Result<void> done = writer_->end_stroke();
  if (done && observer_) observer_->stroke_done(end);
  return done;
}

void Recorder::end_rows() {
  if (rows_ended_) return;
  rows_ended_ = true;
  note_losses();
}

void Recorder::note_losses() {
  const Session& session = press_.session();
  metadata().counters = difference(session.counters(), counters_before_);
  for (const SampleGap& gap : session.samples().gaps()) {
    if (gap.after_time_us < created_us_) continue;
    const double after_s =
        static_cast<double>(gap.after_time_us - first_us_.value_or(created_us_)) / 1e6;
    metadata().remarks.push_back(fmt::format("{} sample{} lost on the line after {:.3f} s.",
                                             gap.samples, gap.samples == 1 ? "" : "s", after_s));
  }
}

Result<void> Recorder::close(const std::string& reason) {
  end_rows();
  return writer_->close(
      reason.empty() ? protocol::RecordState::complete : protocol::RecordState::interrupted,
      reason);
}

}  // namespace controller::host
