// The heat kernel against the law that it is a fast form of: the same steps, so the same forces to
// rounding; and slopes worked out by hand against those that numbers with derivatives carry along.
#include <ceres/jet.h>
#include <catch2/catch.hpp>
#include <random>

#include "fitting/model/heat_kernel.hpp"
#include "tests/fitting/law_samples.hpp"

using namespace fitting;

namespace {

using Jet = ceres::Jet<double, static_cast<int>(kLawSize)>;

class Dice {
 public:
  explicit Dice(unsigned seed) : engine_(seed) {}
  double between(double low, double high) {
    return std::uniform_real_distribution<double>(low, high)(engine_);
  }
  bool heads() { return between(0.0, 1.0) < 0.5; }

 private:
  std::mt19937_64 engine_;
};

// Strokes of any length and speed, steps of any size, dwells at the turns and on the way, some of
// them inside the band.
Path random_path(Dice& dice, double start_m) {
  Path path;
  path.has_time = true;
  path.start_m = start_m;
  path.start_s = dice.between(-5.0, 5.0);
  path.speed_m_s = 5e-3;
  double travel_m = start_m;
  double time_s = path.start_s;
  const auto put = [&](double to_m, double span_s) {
    travel_m = to_m;
    time_s += span_s;
    PathNode node;
    node.travel_m = travel_m;
    node.time_s = time_s;
    node.rows = 1;
    path.nodes.push_back(node);
    path.largest_travel_m = std::max(path.largest_travel_m, travel_m);
  };
  for (int stroke = 0; stroke < 6; ++stroke) {
    const double end_m = stroke % 2 == 0 ? dice.between(0.04, 0.157) : dice.between(0.0, 0.004);
    const double speed_m_s = std::exp(dice.between(std::log(0.5e-3), std::log(30e-3)));
    while (std::abs(end_m - travel_m) > 1e-12) {
      const double way_m = end_m - travel_m;
      const double reach_m = travel_m < 0.006 ? dice.between(5e-5, 4e-4) : dice.between(1e-4, 2e-3);
      const double step_m = std::copysign(std::min(std::abs(way_m), reach_m), way_m);
      put(std::abs(way_m) <= reach_m ? end_m : travel_m + step_m, std::abs(step_m) / speed_m_s);
      if (dice.between(0.0, 1.0) < 0.02) put(travel_m, dice.between(0.0, 3.0));
    }
    for (int i = 0; i < 4; ++i) put(travel_m, dice.between(0.0, 5.0));
  }
  return path;
}

LawParameters<double> random_parameters(Dice& dice) {
  LawParameters<double> p = law_samples::fork();
  for (LawIndex index : {kPositiveVolume, kNegativeVolume, kLowerLegVolume}) {
    p[index] *= dice.between(0.9, 1.3);
  }
  for (LawIndex index : {kThermalTime, kNegativeThermalTime, kLowerLegThermalTime,
                         kPreslidingTravel, kTransferBand, kFriction, kFrictionPerPressure}) {
    p[index] *= std::exp(dice.between(-1.0, 1.0));
  }
  p[kPreload] = dice.between(-20.0, 20.0);
  p[kTransferTravel] = dice.between(1.5e-3, 4e-3);
  p[kStaticExcess] = dice.heads() ? dice.between(-0.2, 0.8) : 0.0;
  p[kStribeckSpeed] = dice.between(1e-3, 6e-3);
  p[kDamperCompression] = dice.heads() ? dice.between(0.0, 200.0) : 0.0;
  p[kDamperRebound] = dice.heads() ? dice.between(0.0, 300.0) : 0.0;
  p[kDamperGas] = dice.heads() ? dice.between(0.0, 15.0) : 0.0;
  if (dice.heads()) {
    p[kCoilRate] = dice.between(2e3, 12e3);
    p[kAddedRate] = dice.between(0.0, 5e3);
    p[kAddedRateFrom] = dice.between(0.02, 0.12);
    p[kTopOutRate] = dice.between(0.0, 20e3);
    p[kTopOutTravel] = dice.between(0.002, 0.02);
  }
  p[kTravelZero] = dice.between(-2e-4, 2e-4);
  p[kPressureScale] = dice.between(0.98, 1.02);
  p[kFillError] = dice.between(-4e3, 4e3);
  return p;
}

SweepModel random_model(Dice& dice) {
  SweepModel out;
  out.law = dice.heads() ? GasLaw::wall_coefficient : GasLaw::constant_time;
  out.start =
      dice.between(0.0, 1.0) < 0.2 ? protocol::GasStart::cycled : protocol::GasStart::equilibrium;
  out.geometry = law_samples::geometry();
  out.at = law_samples::circumstances();
  out.at.temperature_K = dice.between(278.0, 308.0);
  out.reference = law_samples::kReference;
  return out;
}

// Where the record starts: below the band, inside it, above it.
double start_of(int status, const LawParameters<double>& p, Dice& dice) {
  const double low_m = p[kTransferTravel] - 0.5 * p[kTransferBand] - p[kTravelZero];
  if (status == 0) return std::max(0.0, low_m - dice.between(1e-4, 1e-3));
  if (status == 1) return low_m + p[kTransferBand] * dice.between(0.1, 0.9);
  return low_m + p[kTransferBand] + dice.between(1e-4, 0.03);
}

std::vector<SlopeColumn> all_columns() {
  std::vector<SlopeColumn> out;
  for (std::size_t i = 0; i < kLawSize; ++i) out.push_back({static_cast<LawIndex>(i)});
  return out;
}

struct Case {
  SweepModel model;
  LawParameters<double> parameters;
  Path path;
};

Case random_case(unsigned seed) {
  Dice dice(seed);
  Case out{random_model(dice), random_parameters(dice), {}};
  out.path = random_path(dice, start_of(static_cast<int>(seed % 3), out.parameters, dice));
  return out;
}

}  // namespace

TEST_CASE("heat kernel: forces are those of the law, step by step", "[fit]") {
  for (unsigned seed = 0; seed < 60; ++seed) {
    const Case one = random_case(seed);
    const std::vector<double> exact = follow(one.model, one.parameters, one.path);
    std::vector<double> force_N(exact.size());
    const HeatTrack track = make_heat_track(one.path, one.model.start);
    REQUIRE(track.nodes() == static_cast<int>(exact.size()));
    REQUIRE(heat_forces(one.model, one.parameters, track, force_N.data()));
    double worst_N = 0.0;
    double largest_N = 0.0;
    for (std::size_t i = 0; i < exact.size(); ++i) {
      worst_N = std::max(worst_N, std::abs(force_N[i] - exact[i]));
      largest_N = std::max(largest_N, std::abs(exact[i]));
    }
    CAPTURE(seed, worst_N, largest_N);
    // Because the steps are the same ones: only rounding differs.
    CHECK(worst_N < 1e-9 * largest_N);
  }
}

TEST_CASE("heat kernel: every slope is that of the law", "[fit]") {
  for (unsigned seed = 100; seed < 130; ++seed) {
    const Case one = random_case(seed);
    LawParameters<Jet> jets;
    for (std::size_t i = 0; i < kLawSize; ++i) jets[i] = Jet(one.parameters[i], int(i));
    const std::vector<Jet> exact = follow(one.model, jets, one.path);
    const HeatTrack track = make_heat_track(one.path, one.model.start);
    std::vector<double> force_N(exact.size());
    std::vector<double> slopes(exact.size() * kLawSize);
    REQUIRE(heat_slopes(one.model, one.parameters, track, all_columns(), force_N.data(),
                        slopes.data()));
    for (std::size_t index = 0; index < kLawSize; ++index) {
      double worst = 0.0;
      double largest = 0.0;
      for (std::size_t i = 0; i < exact.size(); ++i) {
        const double slope = exact[i].v(static_cast<Eigen::Index>(index));
        worst = std::max(worst, std::abs(slopes[i * kLawSize + index] - slope));
        largest = std::max(largest, std::abs(slope));
      }
      CAPTURE(seed, int(one.model.law), kLawParameters[index].name, worst, largest);
      CHECK(worst <= 1e-7 * largest);
    }
  }
}
