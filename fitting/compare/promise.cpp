#include "fitting/compare/promise.hpp"

#include <algorithm>
#include <cmath>

#include "fitting/compare/contributions.hpp"
#include "protocol/error.hpp"

namespace fitting {
namespace {

// Around the place where most is left.
constexpr double kReach_m = 0.003;

void find_cause(const Contributions& all, NearestSetting& nearest) {
  const double from_m = nearest.largest_left_at_m - kReach_m;
  const double to_m = nearest.largest_left_at_m + kReach_m;
  for (const Contribution& part : all.parts) {
    // The springs are what was brought together.
    if (part.name == kHeatPart || part.name == kHalfLoopPart) continue;
    const double part_N = mean_between_N(all, part.difference_N, from_m, to_m);
    if (part_N * nearest.largest_left_N <= 0.0) continue;
    if (std::abs(part_N) <= std::abs(nearest.cause_N)) continue;
    nearest.cause = part.name;
    nearest.cause_N = part_N;
  }
}

}  // namespace

protocol::Result<void> make_promise(const PreparedSubject& a, const Subject& b,
                                    const DifferenceOptions& options, NearestSetting& nearest) {
  ENSURE(a.prediction && b.model);
  PredictionRequest request = b.model->setting;
  request.pressure_gauge_Pa = nearest.pressure_gauge_Pa;
  request.spacers = nearest.spacers;
  const protocol::Result<Prediction> prediction = b.model->predict(request);
  if (!prediction) return protocol::at(b.name, prediction.error());
  const protocol::Result<Difference> difference =
      difference_of(side_from_prediction(a.subject.name, a.subject.model->model, *a.prediction),
                    side_from_prediction(b.name, b.model->model, *prediction), options);
  if (!difference) return difference.error();
  nearest.promised = find_thirds(*difference);
  find_cause(contributions_of(*a.prediction, *prediction), nearest);
  return {};
}

}  // namespace fitting
