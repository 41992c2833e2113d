// One cell of the campaign: a whole job on one rig, one fault in one phase, and what became of it.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "tests/campaign/faults.hpp"
#include "tests/campaign/rigs.hpp"

namespace tests::campaign {

struct CellRequest {
  FaultRow fault;
  Phase phase = Phase::hello;
  RigKind rig = RigKind::core;
  uint64_t seed = 1;  // when exactly, and what the noise is
};

struct CellResult {
  bool struck = false;
  int exit = 0;         // of the program; -1 where it was killed
  std::string message;  // "" where all went well
  std::string record;   // "none", "interrupted", "complete", "unusable"
  uint64_t rows = 0;    // in the record
  bool whole = false;   // from the first stroke's start to the last one's end
  std::string remarks;  // all that the record says besides
  double lost_s = 0.0;  // between the last row that was taken and the last one on the disk
  // What should not be: the rig did not come to rest, a row is not what the rig sent ...
  std::vector<std::string> wrong;
};

CellResult play(const CellRequest& request);

// Whether the phase belongs to the fault's reach at all: a disk has no part in a calibration.
bool applies(const FaultRow& fault, Phase phase, RigKind rig);

}  // namespace tests::campaign
