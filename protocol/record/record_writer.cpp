#include "protocol/record/record_writer.hpp"

#include <fmt/format.h>

#include <charconv>
#include <cmath>
#include <iterator>

namespace protocol {
namespace {

// The millimetres to print for a travel in metres: the tidy fifteen digits where they read back to
// the very same metres, else the full ones.
double travel_mm(double travel_m) {
  const double full = in_unit(travel_m, "mm");
  char text[32];
  const auto end = std::to_chars(text, text + sizeof text, full, std::chars_format::general, 15);
  double tidy = 0.0;
  std::from_chars(text, end.ptr, tidy);
  return from_unit(tidy, "mm") == travel_m ? tidy : full;
}

void print_row(std::string& out, const RecordRow& row, const RecordColumns& columns) {
  auto to = std::back_inserter(out);
  if (columns.time) fmt::format_to(to, "{},", row.time_s);
  if (columns.stroke) fmt::format_to(to, "{},", row.stroke);
  fmt::format_to(to, "{},{}", travel_mm(row.travel_m), row.force_N);
  if (columns.raw_steps) fmt::format_to(to, ",{}", row.raw_steps);
  if (columns.raw_counts) fmt::format_to(to, ",{}", row.raw_counts);
  out += "\r\n";
}

}  // namespace

RecordWriter::RecordWriter(FileSystem& files, std::filesystem::path path, Metadata metadata,
                           RecordColumns columns, double host_now_s)
    : files_(files),
      path_(std::move(path)),
      metadata_(std::move(metadata)),
      columns_(columns),
      flushed_host_s_(host_now_s) {}

Result<std::unique_ptr<RecordWriter>> RecordWriter::create(FileSystem& files,
                                                           const std::filesystem::path& path,
                                                           Metadata metadata, RecordColumns columns,
                                                           double host_now_s) {
  if (path.extension() != ".csv") {
    return Error{Errc::usage,
                 fmt::format("a record's name ends in .csv; '{}' does not.", path.string())};
  }
  metadata.state = RecordState::running;
  metadata.state_reason.clear();
  std::unique_ptr<RecordWriter> writer(
      new RecordWriter(files, path, std::move(metadata), columns, host_now_s));
  const Result<void> opened = writer->open();
  if (!opened) return opened.error();
  return writer;
}

Result<void> RecordWriter::open() {
  if (files_.exists(path_)) {
    return Error{Errc::output_exists,
                 fmt::format("'{}' is there already and is not overwritten; choose another name.",
                             path_.string())};
  }
  const Json document =
      metadata_document(metadata_, columns_, path_.filename().string(), std::nullopt);
  const Result<void> described = write_new_file(files_, metadata_path(path_), json_text(document));
  if (!described) return described.error();
  Result<std::unique_ptr<OutputFile>> file = files_.create(path_);
  if (!file) {
    (void)files_.remove(metadata_path(path_));
    return file.error();
  }
  csv_ = std::move(file).value();
  pending_ = fmt::format("{}\r\n", fmt::join(column_names(columns_), ","));
  Result<void> begun = flush(flushed_host_s_);
  if (begun) begun = csv_->sync();
  if (begun) begun = files_.sync_folder(folder_of(path_));
  if (!begun) {
    csv_.reset();
    (void)files_.remove(path_);
    (void)files_.remove(metadata_path(path_));
  }
  return begun;
}

Result<void> RecordWriter::keep(Result<void> result) {
  if (!result) failed_ = result.error();
  return result;
}

Result<void> RecordWriter::flush(double host_now_s) {
  if (failed_) return *failed_;
  flushed_host_s_ = host_now_s;
  flushed_row_time_s_ = last_row_time_s_;
  if (pending_.empty()) return {};
  const Result<void> written = keep(csv_->append(pending_));
  if (!written) return written.error();
  hash_.update(pending_);
  pending_.clear();
  return {};
}

Result<void> RecordWriter::append(const RecordRow& row, double host_now_s) {
  ENSURE(!closed_);
  ENSURE(std::isfinite(row.time_s) && std::isfinite(row.travel_m) && std::isfinite(row.force_N));
  if (failed_) return *failed_;
  if (rows_ > 0 && columns_.stroke && row.stroke != stroke_) {
    const Result<void> synced = end_stroke();
    if (!synced) return synced.error();
  }
  if (rows_ == 0) flushed_row_time_s_ = row.time_s;
  print_row(pending_, row, columns_);
  ++rows_;
  stroke_ = row.stroke;
  last_row_time_s_ = row.time_s;
  const bool due = columns_.time && row.time_s - flushed_row_time_s_ >= kFlushInterval_s;
  return due ? flush(host_now_s) : tick(host_now_s);
}

Result<void> RecordWriter::tick(double host_now_s) {
  if (failed_) return *failed_;
  if (host_now_s - flushed_host_s_ < kFlushInterval_s) return {};
  return flush(host_now_s);
}

Result<void> RecordWriter::end_stroke() {
  const Result<void> flushed = flush(flushed_host_s_);
  if (!flushed) return flushed.error();
  return keep(csv_->sync());
}

Result<void> RecordWriter::close(RecordState state, const std::string& reason) {
  ENSURE(!closed_ && state != RecordState::running);
  const Result<void> synced = end_stroke();
  closed_ = true;
  csv_.reset();
  if (!synced && state == RecordState::complete) return synced.error();
  metadata_.state = state;
  metadata_.state_reason = reason;
  // After a failed write the file may end in half a row, which no seal can describe.
  std::optional<RowsSeal> seal;
  if (synced) seal = RowsSeal{rows_, hash_.hex()};
  const Json document = metadata_document(metadata_, columns_, path_.filename().string(), seal);
  return replace_file(files_, metadata_path(path_), json_text(document));
}

Result<void> write_record(FileSystem& files, const std::filesystem::path& path,
                          const SweepRecord& record) {
  const RecordColumns columns{record.has_time(), !record.stroke.empty(), !record.raw_steps.empty(),
                              !record.raw_counts.empty()};
  const RecordState state = record.metadata.state == RecordState::interrupted
                                ? RecordState::interrupted
                                : RecordState::complete;
  Result<std::unique_ptr<RecordWriter>> created =
      RecordWriter::create(files, path, record.metadata, columns, 0.0);
  if (!created) return created.error();
  RecordWriter& writer = *created.value();
  Result<void> done;
  for (size_t i = 0; i < record.size() && done; ++i) {
    RecordRow row;
    if (columns.time) row.time_s = record.time_s[i];
    if (columns.stroke) row.stroke = record.stroke[i];
    row.travel_m = record.travel_m[i];
    row.force_N = record.force_N[i];
    if (columns.raw_steps) row.raw_steps = record.raw_steps[i];
    if (columns.raw_counts) row.raw_counts = record.raw_counts[i];
    done = writer.append(row, 0.0);
  }
  if (done) done = writer.close(state, record.metadata.state_reason);
  if (!done) {
    (void)files.remove(path);
    (void)files.remove(metadata_path(path));
  }
  return done;
}

}  // namespace protocol
