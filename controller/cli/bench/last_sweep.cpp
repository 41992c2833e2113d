#include "controller/cli/bench/last_sweep.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "calibration/instrument.hpp"
#include "protocol/record/record_reader.hpp"

namespace controller::cli {

using protocol::Errc;
using protocol::Error;
using protocol::Result;
namespace fs = std::filesystem;

namespace {

std::optional<LastSweep> newest_in(const fs::path& folder) {
  std::optional<LastSweep> newest;
  std::error_code error;
  for (const auto& entry : fs::directory_iterator(folder.empty() ? "." : folder, error)) {
    if (entry.path().extension() != ".csv") continue;
    Result<protocol::Metadata> metadata = protocol::load_record_metadata(entry.path());
    if (!metadata || metadata->origin != "sweep" || !metadata->travel_calibration) continue;
    const auto age = [](const LastSweep& sweep) {
      return std::pair(sweep.metadata.created, sweep.path);
    };
    LastSweep found{folder / entry.path().filename(), std::move(metadata).value(), {}};
    if (!newest || age(found) > age(*newest)) newest = std::move(found);
  }
  return newest;
}

// From the raw steps: the frame's give is in the travel, but not in what was commanded.
std::optional<double> way_of(const LastSweep& sweep) {
  const Result<protocol::SweepRecord> record =
      protocol::load_record(sweep.path, protocol::UnusableRecords::accept);
  if (!record || record->raw_steps.empty() || record->stroke.empty()) return std::nullopt;
  if (record->stroke.back() == 0) return std::nullopt;
  const auto [low, high] = std::minmax_element(record->raw_steps.begin(), record->raw_steps.end());
  const double way_m =
      calibration::apply_travel(*sweep.metadata.travel_calibration, std::nullopt,
                                static_cast<double>(*high), static_cast<double>(*low), 0.0);
  constexpr double kGrain_m = 1e-4;  // as commanded, less the rounding to steps
  return std::round(std::abs(way_m) / kGrain_m) * kGrain_m;
}

}  // namespace

Result<LastSweep> find_last_sweep(const fs::path& folder) {
  std::optional<LastSweep> last = newest_in(folder);
  if (!last) {
    return Error{Errc::input_missing,
                 fmt::format("There is no sweep in '{}' to repeat; give --fork, --pressure and "
                             "--spacers.",
                             folder.empty() ? "this folder" : folder.string())};
  }
  last->to_m = way_of(*last);
  return *std::move(last);
}

}  // namespace controller::cli
