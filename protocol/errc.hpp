// Every kind of failure that crosses a boundary, as a bare number.
//
// Freestanding (it is compiled for the chip too). Append only; numbers are never reused, since
// records and scripts keep them.
#pragma once

#include <stdint.h>

namespace protocol {

enum class Errc : uint8_t {
  ok = 0,

  // Words on the command line.
  usage = 1,

  // Input that cannot be used.
  input_missing = 10,
  input_malformed = 11,
  input_unknown_key = 12,
  input_out_of_range = 13,
  unit_unknown = 14,
  unit_wrong_dimension = 15,
  record_unusable = 16,
  calibration_unusable = 17,

  // The rig and its link.
  port_missing = 30,
  port_taken = 31,
  port_forbidden = 32,
  not_a_rig = 33,
  version_mismatch = 34,
  link_lost = 35,
  link_timeout = 36,
  rig_refused = 37,
  samples_lost = 38,

  // Stopped for safety, or by the operator.
  stopped_by_operator = 50,
  stopped_by_rig = 51,
  stopped_by_guard = 52,
  not_homed = 53,

  // The fit has no usable answer.
  fit_not_usable = 60,

  // Writing failed.
  output_exists = 70,
  write_failed = 71,

  // Our own mistake.
  bug = 90,
};

}  // namespace protocol
