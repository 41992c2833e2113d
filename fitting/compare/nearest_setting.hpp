// The setting of fork B that comes closest to fork A, and what no setting removes.
//
// Closest is the least weighted rms of the difference of the slow springs over a range of travel.
// Pressure goes in steps of 1 psi, since nobody sets a pump finer, and spacers are whole.
#pragma once

#include <optional>
#include <vector>

#include "fitting/compare/spans.hpp"
#include "fitting/compare/subject.hpp"

namespace fitting {

struct TravelRange {
  double from_m = 0.0;
  double to_m = 0.0;
};

struct NearestOptions {
  double from_share = 0.05;  // of the travel both cover
  double to_share = 0.95;
  std::optional<TravelRange> range;  // instead of the shares
  int spacers_max = 8;
  // Weight over travel, such as the time a rider spends there; empty: all travel counts alike.
  std::function<double(double travel_m)> weight;
};

struct NearestSetting {
  double pressure_gauge_Pa = 0.0;
  int spacers = 0;
  double from_m = 0.0;  // range that was judged
  double to_m = 0.0;
  double rms_as_set_N = 0.0;  // of A - B at the settings compared
  double rms_left_N = 0.0;
  double largest_left_N = 0.0;  // A - B, signed
  double largest_left_at_m = 0.0;
  std::vector<double> thirds_left_N;  // mean A - B in each third of the range
  bool at_pressure_limit = false;     // the fork's own limit stopped the search
  // What a sweep of each will show then: midlines A - B in thirds, with what is not known of it
  // (promise.hpp); and the part that does most of what is left where most is left.
  std::vector<Span> promised;
  std::string cause;
  double cause_N = 0.0;  // A - B
};

// ERRORS: input_out_of_range for a range beyond what both were swept over, or shorter than 5 mm; of
// the models, if none of the settings can be asked.
protocol::Result<NearestSetting> find_nearest_setting(const ModelSubject& a, const ModelSubject& b,
                                                      const NearestOptions& options = {});

}  // namespace fitting
