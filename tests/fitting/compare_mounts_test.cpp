// What mounting anew changes: Student's factor against tables, the pooled scatter by hand, and the
// interval by chance.
#include "fitting/compare/mounts.hpp"

#include <catch2/catch.hpp>
#include <cmath>
#include <random>

#include "fitting/compare/difference.hpp"

using namespace fitting;
using Catch::Matchers::Contains;
using Catch::Matchers::WithinAbs;
using Catch::Matchers::WithinRel;

namespace {

// A midline of 6 N/mm that stands `offset` too high.
CurveAnswer sweep(const std::string& name, int mounting, double offset_N) {
  CurveAnswer out;
  out.name = name;
  out.metadata.fork.name = "Larch 160";
  out.metadata.fork.travel_m = 0.160;
  out.metadata.setting.pressure_gauge_Pa = 558000.0;
  if (mounting > 0) out.metadata.conditions.mounting = mounting;
  out.midline.grid_step_m = 0.01;
  for (int i = 0; i <= 15; ++i) out.midline.travel_m.push_back(0.01 * i);
  out.midline.force_N.resize(16);
  for (Eigen::Index i = 0; i < 16; ++i) {
    out.midline.force_N(i) = 100.0 + 60.0 * static_cast<double>(i) + offset_N;
  }
  out.midline.covariance_N2 = Eigen::MatrixXd::Zero(16, 16);
  return out;
}

MountScatter scatter_of(const Sweeps& a, const Sweeps& b) {
  const auto scatter = mount_scatter(a, b);
  REQUIRE(scatter);
  REQUIRE(*scatter);
  return **scatter;
}

}  // namespace

TEST_CASE("mounts: the scatter is pooled and widened by Student's factor", "[fit][oracle]") {
  // Source: [GUM], table G.2: 12.71 at 1 degree of freedom; the normal factor 1.960.
  const MountScatter one =
      scatter_of({sweep("a1", 1, 3.0), sweep("a2", 2, -3.0)}, {sweep("b1", 1, 0.0)});
  CHECK(one.degrees_of_freedom == 1);
  CHECK(one.mountings_a == 2);
  CHECK(one.mountings_b == 1);
  CHECK_THAT(one.share(), WithinRel(1.5, 1e-12));
  // Variance of +-3 with one degree of freedom: 18 N2.
  CHECK_THAT(one.rms_N, WithinRel(std::sqrt(18.0), 1e-9));
  // To half of the last published digit.
  CHECK_THAT(std::sqrt(one.covariance_N2(7, 7)), WithinRel(std::sqrt(18.0) * 12.71 / 1.960, 6e-4));

  const MountScatter both = scatter_of({sweep("a1", 1, 3.0), sweep("a2", 2, -3.0)},
                                       {sweep("b1", 1, 1.0), sweep("b2", 2, -1.0)});
  CHECK(both.degrees_of_freedom == 2);
  CHECK_THAT(both.rms_N, WithinRel(std::sqrt((18.0 + 2.0) / 2.0), 1e-9));
}

TEST_CASE("mounts: sweeps of one mounting are one, and tell nothing alone", "[fit]") {
  const auto none = mount_scatter({sweep("a1", 1, 3.0), sweep("a2", 1, -3.0)}, {});
  REQUIRE(none);
  CHECK_FALSE(*none);
  const auto mountings = mountings_of(
      {sweep("a1", 1, 3.0), sweep("a2", 1, -3.0), sweep("a3", 0, 6.0), sweep("a4", 0, 0.0)});
  REQUIRE(mountings);
  REQUIRE(mountings->count() == 3);
  CHECK_THAT(mountings->mean_N()(0), WithinAbs(100.0 + (0.0 + 6.0 + 0.0) / 3.0, 1e-9));
}

TEST_CASE("mounts: repeats of another fork or setting are refused", "[fit]") {
  CurveAnswer other = sweep("pumped", 2, 0.0);
  other.metadata.setting.pressure_gauge_Pa += 20000.0;
  const auto pumped = mount_scatter({sweep("a1", 1, 0.0), other}, {});
  REQUIRE_FALSE(pumped);
  CHECK_THAT(pumped.error().message, Contains("pumped was at 83.8 psi"));
  other = sweep("basalt", 2, 0.0);
  other.metadata.fork.name = "Basalt 160";
  const auto fork = mount_scatter({sweep("a1", 1, 0.0), other}, {});
  REQUIRE_FALSE(fork);
  CHECK(fork.error().code == protocol::Errc::record_unusable);
}

TEST_CASE("mounts: the scatter enters the difference once for each fork", "[fit]") {
  const Sweeps a = {sweep("a1", 1, 2.0), sweep("a2", 2, -2.0)};
  const Sweeps b = {sweep("b1", 1, 1.0), sweep("b2", 2, -1.0)};
  DifferenceOptions options;
  options.mounts = scatter_of(a, b);
  const auto side_a = side_from_records(a);
  const auto side_b = side_from_records(b);
  REQUIRE(side_a);
  REQUIRE(side_b);
  const auto with = difference_of(*side_a, *side_b, options);
  const auto without = difference_of(*side_a, *side_b);
  REQUIRE(with);
  REQUIRE(without);
  const double added_N2 = std::pow(with->standard_uncertainty_N(40), 2) -
                          std::pow(without->standard_uncertainty_N(40), 2);
  // t at 2 degrees of freedom is 4.30; (8 + 2) / 2 = 5 N2 of one mounting, halved for each mean.
  CHECK_THAT(added_N2, WithinRel(5.0 * std::pow(4.303 / 1.960, 2), 1e-3));
  CHECK_THAT(with->difference_N(40), WithinAbs(0.0, 1e-9));
}

TEST_CASE("mounts: the interval covers what mounting does, by chance", "[fit]") {
  std::mt19937_64 engine(20261128);
  std::normal_distribution<double> mounting_N(0.0, 4.0);
  const int runs = 1000;
  int covered = 0;
  for (int run = 0; run < runs; ++run) {
    const Sweeps a = {sweep("a1", 1, mounting_N(engine)), sweep("a2", 2, mounting_N(engine))};
    const Sweeps b = {sweep("b1", 1, mounting_N(engine)), sweep("b2", 2, mounting_N(engine))};
    const MountScatter scatter = scatter_of(a, b);
    const double off_N = mountings_of(a)->mean_N()(5) - mountings_of(b)->mean_N()(5);
    const double half_N = 1.96 * std::sqrt(scatter.share() * scatter.covariance_N2(50, 50));
    covered += std::abs(off_N) <= half_N ? 1 : 0;
  }
  // 95 % of 1000 is 950 with a standard deviation of 6.9; three of them to either side.
  CHECK(covered > 929);
  CHECK(covered < 971);
}

TEST_CASE("plan: the order lets an even drift fall out", "[fit][oracle]") {
  // Source: [GUM], table G.2: 4.30, 2.78 and 2.45 at 2, 4 and 6 degrees of freedom; the third
  // decimals from memory.
  CHECK(mounting_order(2) == std::vector<char>{'a', 'b', 'b', 'a'});
  CHECK(mounting_order(3) == std::vector<char>{'a', 'b', 'b', 'a', 'a', 'b'});
  CHECK(drift_left(mounting_order(2)) == 0.0);
  CHECK(drift_left(mounting_order(4)) == 0.0);
  // A at 0, 3, 4 and B at 1, 2, 5.
  CHECK_THAT(drift_left(mounting_order(3)), WithinRel(7.0 / 3.0 - 8.0 / 3.0, 1e-12));
  CHECK_THAT(expanded_mount_factor(2), WithinRel(4.303, 2e-4));
  CHECK_THAT(expanded_mount_factor(3), WithinRel(2.776 * std::sqrt(2.0 / 3.0), 2e-4));
  CHECK_THAT(expanded_mount_factor(4), WithinRel(2.447 * std::sqrt(0.5), 2e-4));
  CHECK(std::isinf(expanded_mount_factor(1)));
}
