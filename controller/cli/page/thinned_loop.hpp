// The loop of the sweep that runs, thinned to what a screen shows, for a page that opens later.
#pragma once

#include <mutex>
#include <vector>

#include "protocol/record/json_fields.hpp"
#include "protocol/record/record_writer.hpp"

namespace controller::cli {

class ThinnedLoop {
 public:
  void clear() {
    const std::lock_guard lock(mutex_);
    rows_.clear();
    every_nth_ = 1;
    seen_ = 0;
  }
  void add(const protocol::RecordRow& row) {
    const std::lock_guard lock(mutex_);
    if (seen_++ % every_nth_ != 0) return;
    rows_.push_back(row);
    if (rows_.size() < kRowsMax) return;
    for (size_t i = 0; 2 * i < rows_.size(); ++i) rows_[i] = rows_[2 * i];
    rows_.resize((rows_.size() + 1) / 2);
    every_nth_ *= 2;
  }
  // {"points": [[travel_mm, force_N, stroke], ...]}. From any thread.
  protocol::Json points() const {
    protocol::Json points = protocol::Json::array();
    const std::lock_guard lock(mutex_);
    for (const protocol::RecordRow& row : rows_) points.push_back(point(row));
    return {{"points", std::move(points)}};
  }
  static protocol::Json point(const protocol::RecordRow& row) {
    return {row.travel_m * 1e3, row.force_N, row.stroke};
  }

 private:
  static constexpr size_t kRowsMax = 2000;

  mutable std::mutex mutex_;
  std::vector<protocol::RecordRow> rows_;
  size_t every_nth_ = 1;
  size_t seen_ = 0;
};

}  // namespace controller::cli
