// Another certificate for a record that exists: raw counts and steps to force and travel anew.
//
// The raw columns are what was measured; the rest of a record follows from them and from the
// certificates in use that day. A better calibration, or a mistake found in the old one, therefore
// makes a new record out of an old one, which stays as it is.
#pragma once

#include "calibration/calibration.hpp"
#include "protocol/record/sweep_record.hpp"

namespace calibration {

// Null: as the record was made.
struct Certificates {
  const Calibration* force = nullptr;
  const Calibration* travel = nullptr;
  const Calibration* frame = nullptr;
};

// The same sweep by other certificates, the two zeros of its day kept. Metadata names the record it
// was made from and what has changed. The caller gives it an id and a date of its own.
//
// ERRORS: record_unusable where the record has no raw counts or steps, no zero of the cell, or no
// curve to keep for the part that is not replaced. REQUIRES: each certificate of its kind, one of
// them at least.
protocol::Result<protocol::SweepRecord> recompute(const protocol::SweepRecord& record,
                                                  const Certificates& certificates);

}  // namespace calibration
