// A sweep record on its way to the disk.
//
//     create        metadata says "running", then the CSV file with its header
//     append        rows reach the operating system at least every second, by the rows' own clock
//                   or the host's, whichever is first; a new stroke number syncs the stroke before
//     close         CSV synced, metadata replaced in one step: "complete", or "interrupted" and why
//
// A crash at any point leaves a record that reads as interrupted. Nothing is overwritten. There is
// no clock inside: the caller passes the host's monotonic time. One thread only. The file system
// must outlive the writer.
#pragma once

#include <filesystem>
#include <memory>

#include "protocol/record/file_system.hpp"
#include "protocol/record/metadata_json.hpp"
#include "protocol/record/sha256.hpp"
#include "protocol/record/sweep_record.hpp"

namespace protocol {

struct RecordRow {
  double time_s = 0.0;
  int stroke = 0;
  double travel_m = 0.0;
  double force_N = 0.0;
  int64_t raw_steps = 0;
  int64_t raw_counts = 0;
};

class RecordWriter {
 public:
  // The longest time that a row waits in memory.
  static constexpr double kFlushInterval_s = 1.0;

  // `path` ends in ".csv". ERRORS: output_exists when the CSV file or its metadata is there,
  // write_failed; nothing of ours is left behind then.
  static Result<std::unique_ptr<RecordWriter>> create(FileSystem& files,
                                                      const std::filesystem::path& path,
                                                      Metadata metadata, RecordColumns columns,
                                                      double host_now_s);

  // ERRORS: write_failed, from then on at every call; close(interrupted, ...) is still allowed.
  Result<void> append(const RecordRow& row, double host_now_s);
  // To be called now and then while no rows arrive.
  Result<void> tick(double host_now_s);
  // Returns once all rows so far are on the disk.
  Result<void> end_stroke();

  // What is learnt during the sweep (counters, pressure after, remarks) is set here before close.
  Metadata& metadata() { return metadata_; }

  // REQUIRES: state is complete or interrupted. After a failed append `complete` is refused.
  Result<void> close(RecordState state, const std::string& reason = "");

  const std::filesystem::path& path() const { return path_; }
  uint64_t rows() const { return rows_; }

 private:
  RecordWriter(FileSystem& files, std::filesystem::path path, Metadata metadata,
               RecordColumns columns, double host_now_s);
  Result<void> open();
  Result<void> flush(double host_now_s);
  Result<void> keep(Result<void> result);

  FileSystem& files_;
  std::filesystem::path path_;
  Metadata metadata_;
  RecordColumns columns_;
  std::unique_ptr<OutputFile> csv_;
  Sha256 hash_;
  std::string pending_;
  uint64_t rows_ = 0;
  int stroke_ = 0;
  double last_row_time_s_ = 0.0;
  double flushed_row_time_s_ = 0.0;
  double flushed_host_s_ = 0.0;
  std::optional<Error> failed_;
  bool closed_ = false;
};

// Writes a finished record at once; after an error neither of its files is left. The state written
// is the metadata's, or complete where that says running.
Result<void> write_record(FileSystem& files, const std::filesystem::path& path,
                          const SweepRecord& record);

}  // namespace protocol
