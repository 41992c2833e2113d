// The derivatives that the solver gets, against differences of the force itself, for every
// parameter of the law.
#include <ceres/jet.h>
#include <catch2/catch.hpp>

#include "fitting/model/follow.hpp"
#include "tests/fitting/law_samples.hpp"

using namespace fitting;

namespace {

using Jet = ceres::Jet<double, static_cast<int>(kLawSize)>;

// What makes a parameter's step: small against what the force notices, large against rounding.
double step_of(std::size_t index, double value) {
  switch (index) {
    case kTravelZero:
    case kTransferTravel:
    case kTransferBand:
      return 1e-9;
    case kFillError:
      return 1.0;
    case kDamperRodArea:
      return 1e-10;
    default:
      return 1e-6 * std::abs(value);
  }
}

struct Difference {
  double largest = 0.0;  // of the derivative, along the path
  double worst = 0.0;    // of its distance from the difference quotient
};

Difference compare(const SweepModel& model, const LawParameters<double>& p, const Path& path,
                   std::size_t index) {
  LawParameters<Jet> jets;
  for (std::size_t i = 0; i < kLawSize; ++i) jets[i] = Jet(p[i], static_cast<int>(i));
  const std::vector<Jet> exact = follow(model, jets, path);
  const double h = step_of(index, p[index]);
  LawParameters<double> up = p;
  LawParameters<double> down = p;
  up[index] += h;
  down[index] -= h;
  const std::vector<double> above = follow(model, up, path);
  const std::vector<double> below = follow(model, down, path);
  REQUIRE(exact.size() == path.nodes.size());
  Difference out;
  for (std::size_t i = 0; i < exact.size(); ++i) {
    const double derivative = exact[i].v(static_cast<Eigen::Index>(index));
    out.largest = std::max(out.largest, std::abs(derivative));
    out.worst = std::max(out.worst, std::abs(derivative - (above[i] - below[i]) / (2.0 * h)));
  }
  return out;
}

bool acts_in(GasLaw law, std::size_t index) {
  const bool exponent = index == kExponent || index == kLowerLegExponent;
  const bool thermal =
      index == kThermalTime || index == kNegativeThermalTime || index == kLowerLegThermalTime;
  // Without a clock there is no speed.
  const bool by_speed = index == kStaticExcess || index == kStribeckSpeed ||
                        index == kDamperCompression || index == kDamperRebound;
  return law == GasLaw::exponent ? !thermal && !by_speed : !exponent;
}

}  // namespace

TEST_CASE("force law: every derivative is the difference of the force itself", "[fit]") {
  SweepModel model;
  model.law = GENERATE(GasLaw::wall_coefficient, GasLaw::constant_time, GasLaw::exponent);
  model.start = GENERATE(protocol::GasStart::equilibrium, protocol::GasStart::cycled);
  model.geometry = law_samples::geometry();
  model.at = law_samples::circumstances();
  model.reference = law_samples::kReference;
  // Into the bumper and back through the port; no node lies on an edge.
  const Path path = law_samples::triangle_path(0.0, 0.1563, 1.0 / 3.0 * 1e-3, 4e-3, 1);
  LawParameters<double> p = law_samples::fork();
  p[kTransferTravel] = 3.21e-3;
  p[kStaticExcess] = 0.3;
  p[kStribeckSpeed] = 5e-3;
  p[kDamperCompression] = 40.0;
  p[kDamperRebound] = 60.0;
  p[kDamperGas] = 12.0;
  p[kCoilRate] = 4e3;
  p[kAddedRate] = 2e3;
  p[kAddedRateFrom] = 0.08;
  p[kTopOutRate] = 9e3;
  p[kTopOutTravel] = 7e-3;
  for (std::size_t index = 0; index < kLawSize; ++index) {
    CAPTURE(int(model.law), kLawParameters[index].name);
    const Difference found = compare(model, p, path, index);
    CHECK((found.largest > 0.0) == acts_in(model.law, index));
    // Because difference quotients keep about six digits, three where the port's edges move.
    CHECK(found.worst <= 2e-3 * found.largest);
  }
}

TEST_CASE("force law: a chamber without volume is refused, not computed", "[fit]") {
  SweepModel model;
  model.geometry = law_samples::geometry();
  model.at = law_samples::circumstances();
  model.reference = law_samples::kReference;
  const Path path = law_samples::triangle_path(0.0, 0.150, 1e-3, 4e-3, 1);
  const auto nodes_with = [&](LawIndex index, double value) {
    LawParameters<double> p = law_samples::fork();
    p[index] = value;
    return follow(model, p, path).size();
  };
  CHECK(nodes_with(kPositiveVolume, 214e-6) == path.nodes.size());
  // The bore takes 119 cm3 over 150 mm, the spacer 7 cm3, the lower legs 270 cm3.
  CHECK(nodes_with(kPositiveVolume, 126e-6) == 0);
  CHECK(nodes_with(kLowerLegVolume, 240e-6) == 0);
  CHECK(nodes_with(kNegativeVolume, -1e-6) == 0);
  CHECK(nodes_with(kSpacerVolume, 100e-6) == 0);
}
