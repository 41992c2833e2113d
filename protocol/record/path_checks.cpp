#include "protocol/record/path_checks.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <numeric>

namespace protocol {
namespace {

// A turn smaller than this part of the whole span is noise.
constexpr double kTurnOfSpan = 0.05;
constexpr double kForceAbsurd_N = 50e3;  // no hand-sized rig or fork bears that
constexpr double kForceFaint_N = 20.0;

struct Span {
  double low;
  double high;
  double width() const { return high - low; }
};

Span span_of(const std::vector<double>& values) {
  const auto [low, high] = std::minmax_element(values.begin(), values.end());
  return {*low, *high};
}

// Sum of the products of both columns' distances from their means: its sign says whether force
// rises with travel.
double joint_rise(const std::vector<double>& travel_m, const std::vector<double>& force_N) {
  const auto count = static_cast<double>(travel_m.size());
  const double mean_m = std::accumulate(travel_m.begin(), travel_m.end(), 0.0) / count;
  const double mean_N = std::accumulate(force_N.begin(), force_N.end(), 0.0) / count;
  double sum = 0.0;
  for (size_t i = 0; i < travel_m.size(); ++i) {
    sum += (travel_m[i] - mean_m) * (force_N[i] - mean_N);
  }
  return sum;
}

Error unusable(const std::string& name, const std::string& message) {
  return Error{Errc::record_unusable, fmt::format("{}: {}", name, message)};
}

Result<void> check_direction(const std::string& name, int reversals, bool single_stroke) {
  if (reversals == 0 && !single_stroke) {
    return unusable(name,
                    "travel never turns back, so there is no loop and friction cannot be seen; for "
                    "a one-way curve give --single-stroke.");
  }
  if (reversals > 0 && single_stroke) {
    return unusable(name,
                    fmt::format("travel turns back {} time{}, so this is not a single stroke; "
                                "leave --single-stroke out.",
                                reversals, reversals == 1 ? "" : "s"));
  }
  return {};
}

Error out_of_range(const std::string& name, const std::string& message) {
  return Error{Errc::input_out_of_range, fmt::format("{}: {}", name, message)};
}

// Mistaken units and signs that would make every later number nonsense.
Result<void> check_size(const ImportedRows& rows, const std::string& name,
                        const ImportColumns& columns, const Fork& fork) {
  const Span travel_m = span_of(rows.travel_m);
  const double fork_mm = in_unit(fork.travel_m, "mm");
  const double reach_m = std::max(travel_m.high, travel_m.width());
  if (reach_m > 2.0 * fork.travel_m) {
    return out_of_range(name, fmt::format("travel in column '{}' reaches {:.4g} mm, and the fork "
                                          "'{}' has {:.4g} mm; is '{}' the right unit?",
                                          columns.travel.name, in_unit(reach_m, "mm"), fork.name,
                                          fork_mm, columns.travel.unit.name));
  }
  const Span force_N = span_of(rows.force_N);
  const double strongest_N = std::max(force_N.high, -force_N.low);
  if (strongest_N > kForceAbsurd_N) {
    return out_of_range(name,
                        fmt::format("force in column '{}' reaches {:.4g} N; is '{}' the right "
                                    "unit?",
                                    columns.force->name, strongest_N, columns.force->unit.name));
  }
  if (joint_rise(rows.travel_m, rows.force_N) <= 0.0) {
    return out_of_range(name,
                        fmt::format("force in column '{}' does not rise with travel in column "
                                    "'{}'; both are positive in compression, and travel is 0 "
                                    "at full extension.",
                                    columns.force->name, columns.travel.name));
  }
  return {};
}

void add_remarks(ImportedRows& rows, const Fork& fork) {
  const Span travel_m = span_of(rows.travel_m);
  const double fork_mm = in_unit(fork.travel_m, "mm");
  if (travel_m.high > 1.05 * fork.travel_m) {
    rows.remarks.push_back(
        fmt::format("Travel reaches {:.1f} mm, beyond the fork's {:.1f} mm: the "
                    "travel zero, scale or unit may be wrong.",
                    in_unit(travel_m.high, "mm"), fork_mm));
  }
  if (travel_m.low < -0.05 * fork.travel_m) {
    rows.remarks.push_back(
        fmt::format("Travel goes down to {:.1f} mm: 0 is full extension, so the "
                    "travel zero may be wrong.",
                    in_unit(travel_m.low, "mm")));
  }
  if (travel_m.width() < 0.25 * fork.travel_m) {
    rows.remarks.push_back(
        fmt::format("The path spans only {:.1f} of the fork's {:.1f} mm; if that "
                    "is unexpected, the unit of travel may be wrong.",
                    in_unit(travel_m.width(), "mm"), fork_mm));
  }
  const double strongest_N = span_of(rows.force_N).high;
  if (strongest_N < kForceFaint_N) {
    rows.remarks.push_back(fmt::format(
        "The largest force is only {:.3g} N; the unit of force may be wrong.", strongest_N));
  }
}

}  // namespace

int count_reversals(std::span<const double> travel_m, double margin_m) {
  int reversals = 0;
  int direction = 0;  // not known until travel has moved by the margin
  double lowest = travel_m.empty() ? 0.0 : travel_m.front();
  double highest = lowest;
  for (const double travel : travel_m) {
    lowest = std::min(lowest, travel);
    highest = std::max(highest, travel);
    const bool fell = direction >= 0 && highest - travel > margin_m;
    const bool rose = direction <= 0 && travel - lowest > margin_m;
    if (!fell && !rose) continue;
    if (direction != 0) ++reversals;
    direction = fell ? -1 : 1;
    lowest = highest = travel;
  }
  return reversals;
}

Result<void> check_path(ImportedRows& rows, const std::string& name, const ImportColumns& columns,
                        bool single_stroke, const Fork& fork) {
  const size_t wanted = single_stroke ? kSingleStrokeSamplesMin : kLoopSamplesMin;
  if (rows.travel_m.size() < wanted) {
    return unusable(name, fmt::format("{} sample{} {} too few; at least {} are wanted.",
                                      rows.travel_m.size(), rows.travel_m.size() == 1 ? "" : "s",
                                      rows.travel_m.size() == 1 ? "is" : "are", wanted));
  }
  const Span travel_m = span_of(rows.travel_m);
  if (!(travel_m.width() > 0.0)) {
    return unusable(name, fmt::format("travel in column '{}' never changes.", columns.travel.name));
  }
  const int reversals = count_reversals(rows.travel_m, kTurnOfSpan * travel_m.width());
  const Result<void> direction = check_direction(name, reversals, single_stroke);
  if (!direction) return direction.error();
  if (columns.time && !(rows.time_s.back() > rows.time_s.front())) {
    return unusable(name, fmt::format("time in column '{}' never advances; give --column time=none "
                                      "to do without.",
                                      columns.time->name));
  }
  const Result<void> size = check_size(rows, name, columns, fork);
  if (!size) return size.error();
  add_remarks(rows, fork);
  return {};
}

}  // namespace protocol
