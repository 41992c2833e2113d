// Forks of different travel in percent of each one's own.
#include "fitting/compare/by_share.hpp"

#include <catch2/catch.hpp>
#include <cmath>
#include <functional>

using namespace fitting;
using Catch::Matchers::WithinAbs;

namespace {

// Force by a function of the share of travel, with half a newton of doubt at each point.
Side side(double travel_m, const std::function<double(double)>& force_of_share) {
  Side out;
  out.fork_travel_m = travel_m;
  const int n = 301;
  out.midline_N.resize(n);
  for (int i = 0; i < n; ++i) {
    const double share = 0.95 * i / (n - 1);
    out.travel_m.push_back(share * travel_m);
    out.midline_N(i) = force_of_share(share);
  }
  out.own_covariance_N2 = 0.25 * Eigen::MatrixXd::Identity(n, n);
  return out;
}

}  // namespace

TEST_CASE("by share: forks that do the same at each share do not differ", "[fit]") {
  const auto force = [](double share) { return 120.0 + 900.0 * share * share; };
  const auto compared = compare_by_share(side(0.160, force), side(0.120, force));
  REQUIRE(compared);
  CHECK(compared->full_travel_m == 0.160);
  // Straight pieces of 0.3 % of the travel leave 900 / 8 * 0.0032^2 = 0.001 N.
  CHECK(compared->difference.difference_N.cwiseAbs().maxCoeff() < 0.002);
  REQUIRE(compared->spans.size() == 1);
  CHECK(compared->spans.front().firmer == Firmer::neither);
}

TEST_CASE("by share: a crossing lies at its share of both travels", "[fit]") {
  const auto compared = compare_by_share(side(0.170, [](double s) { return 100.0 + 1000.0 * s; }),
                                         side(0.140, [](double s) { return 200.0 + 800.0 * s; }));
  REQUIRE(compared);
  REQUIRE(compared->crossings.crossovers.size() == 1);
  CHECK_THAT(compared->crossings.crossovers[0].travel_m / compared->full_travel_m,
             WithinAbs(0.5, 0.002));
  CHECK(compared->crossings.crossovers[0].a_firmer_behind);
  CHECK(compared->thirds.size() == 3);
}

TEST_CASE("by share: forks of one travel need no percent", "[fit]") {
  const auto force = [](double share) { return 1000.0 * share; };
  CHECK_FALSE(compare_by_share(side(0.160, force), side(0.1605, force)));
  CHECK_FALSE(compare_by_share(side(0.160, force), side(0.0, force)));
}
