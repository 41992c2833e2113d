#include "calibration/recompute.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "calibration/instrument.hpp"

namespace calibration {
namespace {

using protocol::AppliedCalibration;
using protocol::Errc;
using protocol::Error;
using protocol::Metadata;
using protocol::Result;
using protocol::SweepRecord;

Error missing(const SweepRecord& record, const std::string& what) {
  return Error{
      Errc::record_unusable,
      fmt::format("record {} has {}, so it cannot be recomputed; only a sweep keeps what a "
                  "recalibration needs.",
                  record.metadata.record_id, what)};
}

// A record of an older program does not name its travel zero: the first row's travel tells it.
double travel_zero_steps(const SweepRecord& record) {
  const Metadata& metadata = record.metadata;
  if (metadata.travel_zero_steps) return *metadata.travel_zero_steps;
  const auto steps = static_cast<double>(record.raw_steps.front());
  const double steps_per_m =
      1.0 / polynomial_slope(metadata.travel_calibration->coefficients, steps);
  const double give_m =
      metadata.frame_calibration ? apply(*metadata.frame_calibration, record.force_N.front()) : 0.0;
  return steps - (record.travel_m.front() + give_m) * steps_per_m;
}

void replace(const char* what, const Calibration* certificate,
             std::optional<AppliedCalibration>& curve, Metadata& metadata) {
  if (certificate == nullptr) return;
  const std::string before =
      curve && !curve->id.empty() ? curve->id.substr(0, 12) : std::string("no certificate");
  curve = certificate->applied();
  metadata.remarks.push_back(fmt::format("Recomputed with {} certificate {} in place of {}.", what,
                                         certificate->id.substr(0, 12), before));
}

// What the zeros and the range said of the old curve holds for the new one in the new newtons.
void renew_doubt(Metadata& metadata, const Certificates& certificates, double largest_force_N) {
  protocol::InstrumentDoubt assumed = metadata.doubt;
  assumed.travel_zero_m = certificates.travel ? protocol::InstrumentDoubt().travel_zero_m
                                              : metadata.doubt.travel_zero_m;
  metadata.doubt =
      instrument_doubt(certificates.force, certificates.travel, assumed, largest_force_N);
  if (certificates.force == nullptr) return;
  if (metadata.zero_before_counts && metadata.zero_after_counts) {
    const double drift_N = apply_force(*metadata.force_calibration, *metadata.zero_after_counts,
                                       metadata.zero_before_counts);
    metadata.doubt.zero_N = std::hypot(metadata.doubt.zero_N, drift_doubt_N(drift_N));
  }
  if (const auto remark = beyond_range_remark(*certificates.force, largest_force_N)) {
    metadata.remarks.push_back(*remark);
  }
}

}  // namespace

Result<SweepRecord> recompute(const SweepRecord& record, const Certificates& certificates) {
  ENSURE(certificates.force || certificates.travel || certificates.frame);
  if (record.raw_counts.empty() || record.raw_steps.empty()) {
    return missing(record, "no raw counts and steps");
  }
  if (!record.metadata.zero_before_counts) return missing(record, "no zero of the load cell");
  if (!record.metadata.force_calibration || !record.metadata.travel_calibration) {
    return missing(record, "no curves for force and travel");
  }
  SweepRecord made = record;
  Metadata& metadata = made.metadata;
  metadata.recomputed_from = record.metadata.record_id;
  metadata.travel_zero_steps = travel_zero_steps(record);
  replace("force", certificates.force, metadata.force_calibration, metadata);
  replace("travel", certificates.travel, metadata.travel_calibration, metadata);
  replace("frame", certificates.frame, metadata.frame_calibration, metadata);
  double largest_force_N = 0.0;
  for (std::size_t i = 0; i < record.size(); ++i) {
    made.force_N[i] =
        apply_force(*metadata.force_calibration, static_cast<double>(record.raw_counts[i]),
                    metadata.zero_before_counts);
    made.travel_m[i] = apply_travel(*metadata.travel_calibration, metadata.frame_calibration,
                                    static_cast<double>(record.raw_steps[i]),
                                    *metadata.travel_zero_steps, made.force_N[i]);
    largest_force_N = std::max(largest_force_N, std::abs(made.force_N[i]));
  }
  renew_doubt(metadata, certificates, largest_force_N);
  return made;
}

}  // namespace calibration
