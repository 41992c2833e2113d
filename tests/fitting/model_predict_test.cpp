// Predictions from a model written by hand: the parts and the whole, what is refused, what is
// warned of, which way a changed setting moves the curve, and how doubt reaches it.
#include "fitting/model/predict.hpp"

#include <Eigen/Eigenvalues>
#include <catch2/catch.hpp>
#include <limits>
#include <numeric>

#include "fitting/model/settled_cycle.hpp"
#include "tests/fitting/hand_made_model.hpp"

using namespace fitting;
using Catch::Matchers::Contains;
using Catch::Matchers::WithinAbs;
using Catch::Matchers::WithinRel;

namespace {

Prediction predicted(const FittedModel& model, const PredictionRequest& request) {
  const auto out = predict(model, request);
  REQUIRE(out);
  return *out;
}

PredictionRequest usual(const FittedModel& model) {
  return like_fitted(model, 558475.0, 1);
}

protocol::Error refused(const FittedModel& model, const PredictionRequest& request) {
  const auto out = predict(model, request);
  REQUIRE_FALSE(out);
  return out.error();
}

std::size_t at_mm(const Prediction& prediction, double mm) {
  std::size_t i = 0;
  while (i + 1 < prediction.travel_m.size() && prediction.travel_m[i] < 1e-3 * mm - 1e-9) ++i;
  return i;
}

}  // namespace

TEST_CASE("predict: the elements add up to the spring", "[fit]") {
  const FittedModel model = hand_made::model();
  PredictionRequest request = usual(model);
  request.travel_max_m = 0.158;
  const Prediction out = predicted(model, request);
  REQUIRE(out.elements.size() == 5);
  for (std::size_t i = 0; i < out.travel_m.size(); ++i) {
    double sum_N = 0.0;
    for (const ElementForce& element : out.elements) sum_N += element.force_N[i];
    CHECK_THAT(sum_N, WithinAbs(out.spring_N[i], 1e-9));
  }
  // Their signs: the negative chamber pulls the fork in, the legs' air pushes once compressed.
  const std::size_t top = at_mm(out, 0.0);
  const std::size_t deep = at_mm(out, 140.0);
  CHECK(out.elements[0].force_N[top] > 400.0);
  CHECK(out.elements[1].force_N[top] < -300.0);
  CHECK_THAT(out.elements[2].force_N[top], WithinAbs(0.0, 1e-6));
  CHECK(out.elements[2].force_N[deep] > 50.0);
  CHECK_THAT(out.elements[3].force_N[deep], WithinAbs(11.0, 1e-12));
  CHECK(out.elements[4].force_N[deep] == 0.0);
  CHECK(out.elements[4].force_N.back() > 100.0);
}

TEST_CASE("predict: the grid runs from zero to the swept travel in the step asked for", "[fit]") {
  const FittedModel model = hand_made::model();
  const Prediction usual_grid = predicted(model, usual(model));
  REQUIRE(usual_grid.travel_m.size() == 293);
  CHECK(usual_grid.travel_m.front() == 0.0);
  CHECK_THAT(usual_grid.travel_m[1], WithinAbs(5e-4, 1e-15));
  CHECK_THAT(usual_grid.travel_m.back(), WithinAbs(0.146, 1e-12));
  for (const std::size_t size :
       {usual_grid.spring_N.size(), usual_grid.compression_N.size(), usual_grid.rebound_N.size(),
        usual_grid.midline_N.size(), usual_grid.friction_N.size(),
        usual_grid.spring_standard_uncertainty_N.size()}) {
    CHECK(size == 293);
  }
  PredictionRequest request = usual(model);
  request.travel_max_m = 0.1002;
  const Prediction odd = predicted(model, request);
  CHECK_THAT(odd.travel_m.back(), WithinAbs(0.1000, 1e-15));
  // The strokes turn where the travel ends, on the grid or behind it.
  CHECK_THAT(usual_grid.compression_N.back(), WithinAbs(usual_grid.rebound_N.back(), 1e-9));
  CHECK(odd.compression_N.back() > odd.rebound_N.back() + 5.0);
}

TEST_CASE("predict: spring, strokes and friction are those of the law", "[fit]") {
  const FittedModel model = hand_made::model();
  const Prediction out = predicted(model, usual(model));
  const Geometry geometry = law_samples::geometry();
  const Circumstances at = law_samples::circumstances();
  const LawParameters<double> p = law_samples::fork();
  const Chambers<double> chambers = make_chambers(p, geometry, 1);
  const HeatLaw<double> law(GasLaw::wall_coefficient, p, geometry, at, model.reference);
  const Cycle<double> cycle = settled_cycle(law, 60, out.travel_m, 0.004);
  for (std::size_t i = 0; i < out.travel_m.size(); ++i) {
    CAPTURE(out.travel_m[i]);
    const SpringParts<double> parts = slow_spring(p, geometry, chambers, at, out.travel_m[i]);
    CHECK_THAT(out.spring_N[i], WithinAbs(parts.total_N(), 1e-9));
    CHECK_THAT(out.friction_N[i], WithinAbs(6.5 + 1.15e-5 * (parts.positive_Pa - 101325.0), 1e-9));
    CHECK_THAT(out.compression_N[i], WithinAbs(cycle.compression_N[i], 0.02));
    CHECK_THAT(out.rebound_N[i], WithinAbs(cycle.rebound_N[i], 0.02));
    CHECK_THAT(out.midline_N[i], WithinAbs(0.5 * (out.compression_N[i] + out.rebound_N[i]), 1e-9));
  }
  const auto alone = slow_spring_N(model, usual(model), out.travel_m);
  REQUIRE(alone);
  for (std::size_t i = 0; i < alone->size(); ++i) {
    CHECK_THAT((*alone)[i], WithinAbs(out.spring_N[i], 1e-9));
  }
}

TEST_CASE("predict: a request like the fitted sweeps repeats their circumstances", "[fit]") {
  FittedModel model = hand_made::model();
  model.context.temperature_K = 288.0;
  model.context.ambient_pressure_Pa = 95e3;
  model.context.vent = {0.02, 95e3, 290.0};
  model.context.mean_speed_m_s = 0.006;
  const PredictionRequest request = like_fitted(model, 6e5, 2);
  CHECK(request.pressure_gauge_Pa == 6e5);
  CHECK(request.spacers == 2);
  CHECK(request.temperature_K == 288.0);
  CHECK(request.ambient_pressure_Pa == 95e3);
  CHECK(request.vent.travel_m == 0.02);
  CHECK(request.vent.temperature_K == 290.0);
  CHECK(request.speed_m_s == 0.006);
}

TEST_CASE("predict: what cannot be answered is refused, with the reason", "[fit]") {
  FittedModel model = hand_made::model();
  const double none = std::numeric_limits<double>::quiet_NaN();

  PredictionRequest request = usual(model);
  request.pressure_gauge_Pa = 1040e3;
  CHECK(refused(model, request).code == protocol::Errc::input_out_of_range);
  CHECK_THAT(refused(model, request).message, Contains("150.0 psi") && Contains("Larch 160"));
  request.pressure_gauge_Pa = 1034214.0;
  CHECK(predict(model, request));

  request = usual(model);
  request.spacers = 14;
  CHECK(refused(model, request).code == protocol::Errc::input_out_of_range);
  CHECK_THAT(refused(model, request).message, Contains("14 spacers") && Contains("146 mm"));

  const auto spoil = [&](auto change) {
    PredictionRequest bad = usual(model);
    change(bad);
    CHECK(refused(model, bad).code == protocol::Errc::input_out_of_range);
  };
  spoil([&](PredictionRequest& r) { r.pressure_gauge_Pa = none; });
  spoil([&](PredictionRequest& r) { r.pressure_gauge_Pa = -1.0; });
  spoil([&](PredictionRequest& r) { r.spacers = -1; });
  spoil([&](PredictionRequest& r) { r.temperature_K = none; });
  spoil([&](PredictionRequest& r) { r.ambient_pressure_Pa = 0.0; });
  spoil([&](PredictionRequest& r) { r.speed_m_s = 0.0; });
  spoil([&](PredictionRequest& r) { r.step_m = 0.0; });
  spoil([&](PredictionRequest& r) { r.vent.pressure_Pa = none; });
  spoil([&](PredictionRequest& r) { r.travel_max_m = 1e-5; });

  model.usable = false;
  model.warnings = {"the residual has a structure"};
  CHECK(refused(model, usual(model)).code == protocol::Errc::fit_not_usable);
  CHECK_THAT(refused(model, usual(model)).message, Contains("the residual has a structure"));
  CHECK_FALSE(slow_spring_N(model, usual(model), {0.0, 0.1}));
}

TEST_CASE("predict: beyond what was swept, calibrated or as fast, it warns", "[fit]") {
  FittedModel model = hand_made::model();
  const auto warned = [&](const PredictionRequest& request, const std::string& of) {
    for (const std::string& warning : predicted(model, request).warnings) {
      if (warning.find(of) != std::string::npos) return true;
    }
    return false;
  };
  CHECK(predicted(model, usual(model)).warnings.empty());
  PredictionRequest request = usual(model);
  request.travel_max_m = 0.155;
  CHECK(warned(request, "beyond 146.0 mm nothing was swept"));
  request = usual(model);
  request.speed_m_s = 0.02;
  CHECK(warned(request, "20.0 mm/s"));
  model.context.calibrated_force_N = 1000.0;
  CHECK(warned(usual(model), "above 1000 N the load cell was not calibrated"));
  model.law = GasLaw::exponent;
  CHECK(warned(usual(model), "without a clock"));
}

TEST_CASE("predict: pressure, spacers, heat, altitude and vent move the curve the right way",
          "[fit]") {
  const FittedModel model = hand_made::model();
  const Prediction base = predicted(model, usual(model));
  const auto change = [&](auto set, double mm) {
    PredictionRequest request = usual(model);
    set(request);
    const Prediction other = predicted(model, request);
    const std::size_t i = at_mm(base, mm);
    return other.spring_N[i] - base.spring_N[i];
  };
  CHECK(change([](PredictionRequest& r) { r.pressure_gauge_Pa *= 1.1; }, 40.0) > 20.0);
  // A spacer makes the end firmer, and hardly the start.
  CHECK(change([](PredictionRequest& r) { r.spacers = 2; }, 140.0) > 40.0);
  CHECK(std::abs(change([](PredictionRequest& r) { r.spacers = 2; }, 10.0)) < 3.0);
  // The lower legs, sealed at 293 K: warmed up they push from the start on, and bled in the heat
  // they pull when it is cool.
  CHECK(change([](PredictionRequest& r) { r.temperature_K = 308.0; }, 2.0) > 3.0);
  CHECK(change([](PredictionRequest& r) { r.vent.temperature_K = 308.0; }, 2.0) < -3.0);
  // 2000 m up with the legs closed at sea level: 20 kPa too much on 18 cm2. The gauge still reads
  // the same, so nothing else is firmer at the start.
  const double up_N = change([](PredictionRequest& r) { r.ambient_pressure_Pa = 79495.0; }, 2.0);
  CHECK(up_N > 30.0);
  CHECK(up_N < 45.0);
  // Bled with the fork held down, the legs pull at the top.
  CHECK(change([](PredictionRequest& r) { r.vent.travel_m = 0.100; }, 2.0) < -50.0);
  // And faster is firmer on the way in.
  PredictionRequest fast = usual(model);
  fast.speed_m_s = 0.010;
  CHECK(predicted(model, fast).compression_N[200] > base.compression_N[200]);
  CHECK(predicted(model, fast).spring_N[200] == base.spring_N[200]);
}

TEST_CASE("predict: without heat the strokes lie about the exponent's curve, by the friction",
          "[fit]") {
  FittedModel model = hand_made::model();
  model.law = GasLaw::exponent;
  const Prediction out = predicted(model, usual(model));
  const std::size_t i = at_mm(out, 80.0);
  const ExponentLaw<double> law(model.law_values, law_samples::geometry(),
                                law_samples::circumstances());
  const SpringParts<double> parts = law.parts(out.travel_m[i]);
  // Because the pressure rises over a presliding travel, and friction with it, by 0.02 N.
  CHECK_THAT(out.midline_N[i], WithinAbs(parts.total_N(), 0.02));
  const double friction_N = 6.5 + 1.15e-5 * (parts.positive_Pa - 101325.0);
  CHECK_THAT(0.5 * (out.compression_N[i] - out.rebound_N[i]), WithinAbs(friction_N, 0.02));
}

TEST_CASE("predict: the parameters' doubt reaches the curve by its slope", "[fit]") {
  FittedModel model = hand_made::model();
  const Prediction base = predicted(model, usual(model));
  const auto moved = [&](LawIndex index, double by_SI) {
    FittedModel other = model;
    other.law_values[index] += by_SI;
    return predicted(other, usual(model));
  };
  const Prediction wider = moved(kPositiveVolume, 1.2e-8);  // a hundredth of its uncertainty
  for (const double mm : {5.0, 60.0, 120.0, 146.0}) {
    const std::size_t i = at_mm(base, mm);
    const double by_volume_N = 100.0 * (wider.spring_N[i] - base.spring_N[i]);
    CAPTURE(mm, by_volume_N);
    CHECK_THAT(base.spring_standard_uncertainty_N[i],
               WithinRel(std::hypot(by_volume_N, 2.0), 1e-3));
    const double midline_N = 100.0 * (wider.midline_N[i] - base.midline_N[i]);
    CHECK_THAT(base.midline_standard_uncertainty_N[i], WithinRel(std::hypot(midline_N, 2.0), 0.02));
  }
  // A covariance is one: symmetric, and no direction with less than nothing.
  const Eigen::MatrixXd& own = base.own_midline_covariance;
  CHECK_THAT((own - own.transpose()).norm(), WithinAbs(0.0, 1e-9 * own.norm()));
  CHECK(Eigen::SelfAdjointEigenSolver<Eigen::MatrixXd>(own).eigenvalues()(0) > -1e-9 * own.norm());
}

TEST_CASE("predict: a doubt that acts again in the prediction is added before it is squared",
          "[fit]") {
  FittedModel model = hand_made::model();
  model.own_covariance.setZero();
  const double gauge = 0.01;
  // What the gauge's error did to the fit: the volume came out too small by 3 cm3 per one per cent.
  SharedDoubt doubt{"pressure_gauge", gauge, true, Eigen::Vector2d(3.0, 0.0)};
  model.shared = {doubt};
  const Prediction both = predicted(model, usual(model));
  model.shared[0].shift.setZero();
  const Prediction direct = predicted(model, usual(model));
  model.shared[0].shift = doubt.shift;
  model.shared[0].name = "load_cell_gain";  // acts through the parameters only
  const Prediction indirect = predicted(model, usual(model));
  const std::size_t i = at_mm(both, 100.0);
  // More air at more pressure: deep in the travel the two act against each other.
  REQUIRE(both.shared.size() == 1);
  CHECK_THAT(both.shared[0].spring_N(Eigen::Index(i)),
             WithinAbs(direct.shared[0].spring_N(Eigen::Index(i)) +
                           indirect.shared[0].spring_N(Eigen::Index(i)),
                       1e-9));
  CHECK(direct.shared[0].spring_N(Eigen::Index(i)) > 0.0);
  CHECK(indirect.shared[0].spring_N(Eigen::Index(i)) < 0.0);
  CHECK(both.spring_standard_uncertainty_N[i] < direct.spring_standard_uncertainty_N[i]);
  // Kept apart for comparing forks, and still in the total.
  CHECK(both.own_spring_covariance.norm() == 0.0);
  // One of this fork alone is its own.
  model.shared[0].across_forks = false;
  const Prediction own = predicted(model, usual(model));
  CHECK(own.shared.empty());
  CHECK_THAT(std::sqrt(own.own_spring_covariance(Eigen::Index(i), Eigen::Index(i))),
             WithinRel(std::abs(indirect.shared[0].spring_N(Eigen::Index(i))), 1e-9));
  CHECK_THAT(own.spring_standard_uncertainty_N[i],
             WithinRel(indirect.spring_standard_uncertainty_N[i], 1e-9));
}

TEST_CASE("predict: a fill read anew, and force beyond the calibration, widen the doubt", "[fit]") {
  FittedModel model = hand_made::model();
  model.own_covariance.setZero();
  model.context.gauge_reading_Pa = 3447.0;  // half a psi
  const Prediction out = predicted(model, usual(model));
  PredictionRequest higher = usual(model);
  higher.pressure_gauge_Pa += 3447.0;
  const Prediction firmer = predicted(model, higher);
  const std::size_t i = at_mm(out, 60.0);
  CHECK_THAT(out.spring_standard_uncertainty_N[i],
             WithinRel(firmer.spring_N[i] - out.spring_N[i], 1e-6));

  model.context.gauge_reading_Pa = 0.0;
  model.context.calibrated_force_N = 800.0;
  const Prediction beyond = predicted(model, usual(model));
  CHECK(beyond.spring_standard_uncertainty_N[at_mm(beyond, 20.0)] == 0.0);
  CHECK_THAT(beyond.spring_standard_uncertainty_N.back(),
             WithinRel(0.002 * (beyond.spring_N.back() - 800.0), 1e-9));

  model.context.calibrated_force_N = 0.0;
  PredictionRequest deeper = usual(model);
  deeper.travel_max_m = 0.158;
  const Prediction unswept = predicted(model, deeper);
  const std::size_t swept = at_mm(unswept, 146.0);
  CHECK(unswept.spring_standard_uncertainty_N[swept] == 0.0);
  CHECK_THAT(unswept.spring_standard_uncertainty_N.back(),
             WithinRel(0.02 * (unswept.spring_N.back() - unswept.spring_N[swept]), 1e-9));
}
