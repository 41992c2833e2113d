#include "fitting/solve/reduction/reduction.hpp"

#include <algorithm>
#include <cmath>

#include "fitting/model/path.hpp"
#include "protocol/error.hpp"

namespace fitting {
namespace {

constexpr double kFirst_m = 4e-4;
constexpr double kGrowth = 0.7;  // of the distance
constexpr double kLongest_m = 2.4e-2;
constexpr double kFarthest_m = 1.0;
constexpr double kOvershoot_m = 1e-3;
constexpr double kSliver = 0.3;
constexpr double kSamePlace_m = 1e-6;
constexpr double kForgotten_m = 0.02;  // a stroke this long has forgotten how friction began

bool same_edges(double a_m, double b_m) {
  return std::abs(a_m - b_m) < kSamePlace_m;
}

// Distances from the reversal. One is where the bumper begins and one where the fork's travel ends:
// a segment that reached beyond would have nodes where a chamber has hardly a volume.
std::vector<double> make_edges(const ReducedStroke& stroke, const Geometry& geometry) {
  std::vector<double> out = {0.0};
  const double bumper_m = stroke.direction * (geometry.bumper_start_m - stroke.from_m);
  const double end_m = stroke.direction > 0 ? geometry.travel_m - stroke.from_m + kOvershoot_m
                                            : stroke.from_m + kOvershoot_m;
  while (out.back() < kFarthest_m) {
    const double last_m = out.back();
    const double width_m = std::clamp(kGrowth * last_m, kFirst_m, kLongest_m);
    double next_m = last_m + width_m;
    for (double stop_m : {bumper_m, end_m}) {
      // A sliver behind it would be a segment of its own.
      if (last_m >= stop_m || next_m <= stop_m - kSliver * width_m) continue;
      next_m = stop_m;
      break;
    }
    out.push_back(next_m);
  }
  return out;
}

}  // namespace

void Reduction::begin_stroke(int direction, double from_m) {
  ReducedStroke stroke;
  stroke.direction = direction;
  stroke.from_m = from_m;
  stroke.before = static_cast<int>(strokes_.size()) - 1;
  edges_m_ = make_edges(stroke, geometry_);
  stroke.moments.resize(edges_m_.size() - 1);
  kinds_.push_back(static_cast<int>(strokes_.size()));
  strokes_.push_back(std::move(stroke));
}

void Reduction::add(const double* travel_m, const double* force_N, std::size_t rows) {
  ENSURE(!strokes_.empty());
  ReducedStroke& stroke = strokes_.back();
  const auto distance = [&](std::size_t row) {
    return stroke.direction * (travel_m[row] - stroke.from_m);
  };
  std::size_t at = 0;
  std::size_t segment = 0;
  while (at < rows) {
    const double here_m = std::max(0.0, distance(at));
    while (segment > 0 && here_m < edges_m_[segment]) --segment;
    while (segment + 2 < edges_m_.size() && here_m >= edges_m_[segment + 1]) ++segment;
    // Jitter at the start may lie behind the reversal.
    const double low_m = segment == 0 ? -kFarthest_m : edges_m_[segment];
    const double high_m = edges_m_[segment + 1];
    const auto within = [&](std::size_t row) {
      const double there_m = distance(row);
      return there_m >= low_m && there_m < high_m;
    };
    // By leaps, then by halves: rows follow the stroke but for their jitter, and jitter over an
    // edge only stretches the segment by as much.
    std::size_t leap = 1;
    while (at + leap < rows && within(at + leap)) leap *= 2;
    std::size_t inside = at + leap / 2;
    std::size_t end = std::min(at + leap, rows);
    while (end - inside > 1) {
      const std::size_t middle = inside + (end - inside) / 2;
      (within(middle) ? inside : end) = middle;
    }
    const double width_m = high_m - edges_m_[segment];
    const double scale_1_m = 2.0 * stroke.direction / width_m;
    const double shift = -scale_1_m * stroke.from_m - (high_m + edges_m_[segment]) / width_m;
    stroke.moments[segment].add(travel_m + at, force_N + at, end - at, scale_1_m, shift);
    at = end;
  }
  rows_ += rows;
}

void Reduction::end_stroke(double to_m) {
  ReducedStroke& stroke = strokes_.back();
  stroke.to_m = to_m;
  largest_travel_m_ = std::max({largest_travel_m_, stroke.from_m, to_m});
}

void Reduction::keep_apart() {
  for (ReducedStroke& stroke : strokes_) finish(stroke);
}

void Reduction::finish(ReducedStroke& stroke) const {
  stroke.segments.clear();
  const std::vector<double> edges_m = make_edges(stroke, geometry_);
  for (std::size_t i = 0; i < stroke.moments.size(); ++i) {
    if (stroke.moments[i].empty()) continue;
    stroke.segments.push_back(make_segment(stroke.moments[i], edges_m[i], edges_m[i + 1],
                                           stroke.from_m, stroke.direction));
  }
}

void Reduction::merge() {
  ENSURE(kinds_.size() == strokes_.size());  // once
  std::vector<ReducedStroke> merged;
  std::vector<int>& where = kinds_;
  for (std::size_t i = 0; i < strokes_.size(); ++i) {
    ReducedStroke& stroke = strokes_[i];
    const int before = stroke.before < 0 ? -1 : where[static_cast<std::size_t>(stroke.before)];
    const auto alike = [&](const ReducedStroke& other) {
      if (other.direction != stroke.direction || !same_edges(other.from_m, stroke.from_m)) {
        return false;
      }
      if (before < 0 || other.before < 0) return before == other.before;
      const ReducedStroke& last = merged[static_cast<std::size_t>(before)];
      return std::abs(last.to_m - last.from_m) > kForgotten_m &&
             std::abs(merged[static_cast<std::size_t>(other.before)].to_m -
                      merged[static_cast<std::size_t>(other.before)].from_m) > kForgotten_m;
    };
    const auto known = std::find_if(merged.begin(), merged.end(), alike);
    where[i] = static_cast<int>(known - merged.begin());
    if (known == merged.end()) {
      stroke.before = before;
      merged.push_back(std::move(stroke));
      continue;
    }
    for (std::size_t k = 0; k < known->moments.size(); ++k) {
      known->moments[k].add(stroke.moments[k]);
    }
    known->strokes += stroke.strokes;
  }
  strokes_ = std::move(merged);
  for (ReducedStroke& stroke : strokes_) finish(stroke);
}

Reduction reduce(const protocol::SweepRecord& record, const std::vector<Stroke>& strokes,
                 const Geometry& geometry) {
  Reduction out(geometry);
  const bool push = record.metadata.setting.coupling == protocol::Coupling::push;
  const auto tells = [&](std::size_t row, bool first) {
    if (first && std::abs(record.travel_m[row] - record.travel_m.front()) < kUnknownStart_m) {
      return false;
    }
    return !push || record.force_N[row] >= kContact_N;
  };
  for (std::size_t i = 0; i < strokes.size(); ++i) {
    const Stroke& stroke = strokes[i];
    out.begin_stroke(stroke.direction, stroke.from_m);
    std::size_t at = stroke.first_row;
    while (at < stroke.moving_end) {
      while (at < stroke.moving_end && !tells(at, i == 0)) ++at;
      std::size_t end = at;
      while (end < stroke.moving_end && tells(end, i == 0)) ++end;
      out.add(&record.travel_m[at], &record.force_N[at], end - at);
      at = end;
    }
    out.end_stroke(stroke.to_m);
  }
  out.merge();
  return out;
}

}  // namespace fitting
