#include "fitting/compare/by_share.hpp"

#include <cmath>

namespace fitting {
namespace {

constexpr double kAlike_m = 0.001;

}  // namespace

std::optional<ComparedByShare> compare_by_share(const Side& a, const Side& b,
                                                const DifferenceOptions& options) {
  const bool known = a.fork_travel_m > 0.0 && b.fork_travel_m > 0.0;
  if (!known || std::abs(a.fork_travel_m - b.fork_travel_m) <= kAlike_m) return std::nullopt;
  ComparedByShare out;
  out.full_travel_m = a.fork_travel_m;
  out.a = a;
  out.b = b;
  const double stretch = a.fork_travel_m / b.fork_travel_m;
  for (double& travel_m : out.b.travel_m) travel_m *= stretch;
  protocol::Result<Difference> difference = difference_of(out.a, out.b, options);
  if (!difference) return std::nullopt;
  out.difference = *std::move(difference);
  out.crossings = find_crossovers(out.difference);
  out.spans = find_spans(out.difference);
  out.thirds = find_thirds(out.difference);
  return out;
}

}  // namespace fitting
