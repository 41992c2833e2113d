// A ride's log made sound: travel over time, cut where the logger was silent, its zero where the
// fork's is.
//
// What is found is said; what cannot be told from a mistake is refused with what to do.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "protocol/result.hpp"

namespace fitting {

struct RideLog {
  std::string name;  // what the user called it
  std::vector<double> time_s;
  std::vector<double> travel_m;
};

// Travel is straight between samples and not known inside a gap.
struct RideTrace {
  std::string name;
  std::vector<double> time_s;
  std::vector<double> travel_m;
  std::vector<bool> gap_after;  // after each sample but the last
  double fork_travel_m = 0.0;
  double zero_taken_off_m = 0.0;
  double gaps_s = 0.0;
  std::vector<std::string> remarks;

  std::size_t size() const { return time_s.size(); }
};

enum class RideZero {
  automatic,  // the least travel that was kept for a while is full extension
  none,
  given,
};

struct TraceOptions {
  RideZero zero = RideZero::automatic;
  double zero_m = 0.0;  // what the sensor reads at full extension; for `given`
};

// ERRORS: record_unusable for fewer than 100 samples, a sample rate that no logger has, a largest
// travel that the fork has not, or a log that never moves; each says what to try.
protocol::Result<RideTrace> make_trace(const RideLog& log, double fork_travel_m,
                                       const TraceOptions& options = {});

}  // namespace fitting
