// The fair comparison: each fork pumped so that the same rider rests at the same sag.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "fitting/compare/crossovers.hpp"
#include "fitting/compare/sag.hpp"
#include "fitting/compare/spans.hpp"
#include "fitting/compare/subject.hpp"

namespace fitting {

struct SagOptions {
  std::optional<double> load_N;
  std::optional<Rider> rider;
  // The sag wanted, of each fork's own travel, or as a travel. Neither: under a load that was said
  // the share that A has as set, else 20 %.
  std::optional<double> sag_share;
  std::optional<double> sag_m;
};

// A fork under the load, at one setting.
struct RestingFork {
  std::optional<Sag> sag;  // none: it does not come to carry the load
  // Of a record: where the strokes of the measured loop carry the load, at the sweep's speed.
  std::optional<double> loop_least_m;
  std::optional<double> loop_most_m;
};

// One fork pumped for the sag; a coil is preloaded for it instead.
struct MatchedFork {
  double pressure_gauge_Pa = 0.0;
  std::optional<double> added_preload_N;
  std::optional<double> pressure_standard_uncertainty_Pa;
  RestingFork resting;
  Prediction prediction;
};

// "45 N more preload"
std::string preload_words(double added_N);

struct MatchedSag {
  double load_N = 0.0;
  std::string load_source;  // how the load came about, in words
  std::string sag_source;
  double sag_a_m = 0.0;  // wanted
  double sag_b_m = 0.0;
  RestingFork as_tested_a;
  RestingFork as_tested_b;
  // Both forks pumped for the sag, and compared there; empty, with the reason, if one is a record
  // or no pressure does it.
  std::optional<MatchedFork> a;
  std::optional<MatchedFork> b;
  std::string not_matched_reason;
  std::optional<Difference> difference;
  Crossings crossings;
  std::vector<Span> spans;
  std::vector<Span> thirds;
};

// ERRORS: as load_along_fork_N; input_out_of_range if no load was given and A carries none.
protocol::Result<MatchedSag> match_sag(const PreparedSubject& a, const PreparedSubject& b,
                                       const SagOptions& options,
                                       const DifferenceOptions& difference_options = {});

// The gauge pressure at which the slow spring carries the load at that travel. ERRORS:
// input_out_of_range if no pressure up to the fork's limit does.
protocol::Result<double> pressure_for_sag_Pa(const ModelSubject& subject, double sag_m,
                                             double load_N);

}  // namespace fitting
