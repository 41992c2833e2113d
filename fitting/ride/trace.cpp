#include "fitting/ride/trace.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace fitting {
namespace {

using protocol::Errc;
using protocol::Error;
using protocol::Result;

constexpr std::size_t kFewest = 100;
constexpr double kSlowest_Hz = 20.0;
constexpr double kFastest_Hz = 20e3;
// A pause of so many usual steps, and of so long, is a gap.
constexpr double kGapSteps = 5.0;
constexpr double kGap_s = 0.1;
// No fork moves faster. Common practice, no source: hard landings stay below 10 m/s.
constexpr double kFastest_m_s = 15.0;
constexpr double kTooDeep = 1.15;     // of the fork's travel
constexpr double kNeverMoves = 0.03;  // likewise
// The share of time below the level that counts as full extension, and an offset worth naming.
constexpr double kExtendedShare = 0.005;
constexpr double kOffsetShare = 0.01;

Error unusable(const RideLog& log, const std::string& what) {
  return {Errc::record_unusable, log.name + ": " + what};
}

double usual_step_s(const std::vector<double>& time_s) {
  std::vector<double> steps;
  for (std::size_t i = 1; i < time_s.size(); ++i) steps.push_back(time_s[i] - time_s[i - 1]);
  const auto middle = steps.begin() + static_cast<std::ptrdiff_t>(steps.size() / 2);
  std::nth_element(steps.begin(), middle, steps.end());
  return *middle;
}

double quantile(std::vector<double> values, double share) {
  const auto at =
      values.begin() + static_cast<std::ptrdiff_t>(share * static_cast<double>(values.size() - 1));
  std::nth_element(values.begin(), at, values.end());
  return *at;
}

Result<void> check_clock(const RideLog& log, double step_s) {
  const double rate_Hz = 1.0 / step_s;
  if (step_s > 0.0 && rate_Hz >= kSlowest_Hz && rate_Hz <= kFastest_Hz) return {};
  return unusable(
      log, fmt::format("samples come every {:.3g} s, where a log of a ride has {:.0f} to {:.0f} a "
                       "second; if the clock counts in another unit, say so, such as --column "
                       "time=NAME:ms.",
                       step_s, kSlowest_Hz, kFastest_Hz));
}

Result<void> check_travel(const RideLog& log, double least_m, double deepest_m, double fork_m) {
  if (deepest_m > kTooDeep * fork_m) {
    return unusable(
        log, fmt::format("travel reaches {:.4g} mm, but the fork has {:.4g} mm; give the column's "
                         "unit (--column travel=NAME:UNIT), the fork that the log is of, or what "
                         "the sensor reads at full extension (--zero \"12 mm\").",
                         1e3 * deepest_m, 1e3 * fork_m));
  }
  if (deepest_m - least_m < kNeverMoves * fork_m) {
    return unusable(log, fmt::format("travel stays between {:.3g} and {:.3g} mm of the fork's "
                                     "{:.4g} mm: the fork never moves, or the column is in another "
                                     "unit (--column travel=NAME:UNIT).",
                                     1e3 * least_m, 1e3 * deepest_m, 1e3 * fork_m));
  }
  return {};
}

// Samples at a clock that stands, and lone jumps that no fork makes.
void keep_sound(const RideLog& log, RideTrace& out) {
  std::size_t standing = 0;
  std::size_t jumps = 0;
  for (std::size_t i = 0; i < log.time_s.size(); ++i) {
    const double time_s = log.time_s[i];
    const double travel_m = log.travel_m[i];
    if (out.size() > 0 && time_s <= out.time_s.back()) {
      ++standing;
      continue;
    }
    const bool ends = i == 0 || i + 1 == log.time_s.size() || out.size() == 0;
    const bool jumps_there = !ends && std::abs(travel_m - out.travel_m.back()) >
                                          kFastest_m_s * (time_s - out.time_s.back());
    const bool jumps_back = !ends && std::abs(log.travel_m[i + 1] - travel_m) >
                                         kFastest_m_s * (log.time_s[i + 1] - time_s);
    if (jumps_there && jumps_back) {
      ++jumps;
      continue;
    }
    out.time_s.push_back(time_s);
    out.travel_m.push_back(travel_m);
  }
  if (standing > 0) {
    out.remarks.push_back(fmt::format(
        "{} samples stand at the time of the one before them and were left out", standing));
  }
  if (jumps > 0) {
    out.remarks.push_back(
        fmt::format("{} samples jump off and back faster than {:.0f} m/s and were left out", jumps,
                    kFastest_m_s));
  }
}

void find_gaps(double step_s, RideTrace& out) {
  int gaps = 0;
  out.gap_after.assign(out.size() - 1, false);
  for (std::size_t i = 0; i + 1 < out.size(); ++i) {
    const double pause_s = out.time_s[i + 1] - out.time_s[i];
    if (pause_s <= std::max(kGapSteps * step_s, kGap_s)) continue;
    out.gap_after[i] = true;
    out.gaps_s += pause_s;
    ++gaps;
  }
  if (gaps == 0) return;
  out.remarks.push_back(
      fmt::format("the logger was silent {} time{}, {:.1f} s in all; that time is not counted",
                  gaps, gaps == 1 ? "" : "s", out.gaps_s));
}

void set_zero(const TraceOptions& options, RideTrace& out) {
  const double level_m = quantile(out.travel_m, kExtendedShare);
  const bool off = std::abs(level_m) > kOffsetShare * out.fork_travel_m;
  if (options.zero == RideZero::given) out.zero_taken_off_m = options.zero_m;
  if (options.zero == RideZero::automatic && off) {
    out.zero_taken_off_m = level_m;
    out.remarks.push_back(
        fmt::format("the least travel that is kept reads {:.1f} mm and was taken for full "
                    "extension; if the fork never extends there, say --zero none",
                    1e3 * level_m));
  }
  if (options.zero == RideZero::none && off) {
    out.remarks.push_back(
        fmt::format("the least travel that is kept reads {:.1f} mm: the sensor's zero may be off",
                    1e3 * level_m));
  }
  for (double& travel_m : out.travel_m) travel_m -= out.zero_taken_off_m;
}

}  // namespace

Result<RideTrace> make_trace(const RideLog& log, double fork_travel_m,
                             const TraceOptions& options) {
  if (log.time_s.size() < kFewest) {
    return unusable(log, fmt::format("{} samples are too few for a ride; it takes {}.",
                                     log.time_s.size(), kFewest));
  }
  const double step_s = usual_step_s(log.time_s);
  if (const Result<void> clock = check_clock(log, step_s); !clock) return clock.error();
  RideTrace out;
  out.name = log.name;
  out.fork_travel_m = fork_travel_m;
  keep_sound(log, out);
  if (out.size() < kFewest) return unusable(log, "next to nothing of it is sound.");
  find_gaps(step_s, out);
  set_zero(options, out);
  const auto [least, deepest] = std::minmax_element(out.travel_m.begin(), out.travel_m.end());
  const Result<void> travel = check_travel(log, *least, *deepest, fork_travel_m);
  if (!travel) return travel.error();
  return out;
}

}  // namespace fitting
