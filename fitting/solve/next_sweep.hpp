// Which sweep to make next: how much each of many possible ones would shrink the uncertainty of a
// named quantity, before any of them is made.
//
// The law at the fitted values says what a sweep would show, and how that depends on every
// parameter; added to what the sweeps so far tell, and with the bench's doubts carried through,
// it gives the uncertainty that would be left. The forces themselves need not be known for that.
#pragma once

#include <string>
#include <vector>

#include "fitting/solve/fork_fit.hpp"

namespace fitting {

struct SweepCandidate {
  double pressure_gauge_Pa = 0.0;
  int spacers = 0;
  double speed_m_s = 0.004;
  double dwell_s = 0.0;  // at each turn

  bool operator==(const SweepCandidate&) const = default;
};

struct Prospect {
  SweepCandidate candidate;
  double standard_uncertainty = 0.0;  // that would be left, in the quantity's unit
};

struct NextSweep {
  std::string quantity;
  std::string unit;
  double standard_uncertainty = 0.0;  // now
  std::vector<Prospect> prospects;    // best first
};

// Pressures, spacer counts, speeds and dwells about those of the records, within the fork's limit.
// Empty candidates: those. ERRORS: those of fit_fork; fit_not_usable; usage for a quantity that
// the fit does not know, with the list.
protocol::Result<NextSweep> find_next_sweep(const std::vector<protocol::SweepRecord>& records,
                                            const std::string& quantity,
                                            std::vector<SweepCandidate> candidates = {},
                                            const FitOptions& options = {});

}  // namespace fitting
