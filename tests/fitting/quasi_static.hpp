// Sweeps made by the law without a clock, with the samples where a rig might have put them: so many
// rows that what a reduction loses would show, and the rows themselves to hold it against.
#pragma once

#include <random>
#include <vector>

#include "fitting/solve/reduction/reduced_evidence.hpp"
#include "tests/fitting/law_samples.hpp"

namespace quasi_static {

struct Rows {
  fitting::Stroke stroke;
  std::vector<double> travel_m;
  std::vector<double> force_N;
};

struct Sweep {
  fitting::SweepModel model;
  std::vector<Rows> strokes;

  std::size_t rows() const {
    std::size_t out = 0;
    for (const Rows& stroke : strokes) out += stroke.travel_m.size();
    return out;
  }
};

struct Plan {
  double pressure_Pa = 6e5;  // gauge
  int spacers = 0;
  int cycles = 2;
  int rows = 4000;
  double to_m = 0.150;
  double noise_N = 1.5;
  unsigned seed = 1;
};

inline fitting::SweepModel model(const Plan& plan) {
  fitting::SweepModel out;
  out.law = fitting::GasLaw::exponent;
  out.geometry = law_samples::geometry();
  out.at = law_samples::circumstances();
  out.at.pressure_gauge_Pa = plan.pressure_Pa;
  out.at.spacers = plan.spacers;
  return out;
}

// Jittered within even steps, as by a clock that is not the step's; friction starts from nothing.
inline Sweep make(const Plan& plan, const fitting::LawParameters<double>& truth) {
  Sweep out{model(plan), {}};
  const fitting::ExponentLaw<double> law(truth, out.model.geometry, out.model.at);
  std::mt19937_64 engine(plan.seed);
  std::normal_distribution<double> normal;
  std::uniform_real_distribution<double> place(0.02, 0.98);
  double at_turn_N = 0.0;
  const int strokes = 2 * plan.cycles;
  for (int k = 0; k < strokes; ++k) {
    Rows rows;
    rows.stroke.direction = k % 2 == 0 ? +1 : -1;
    rows.stroke.from_m = k % 2 == 0 ? 0.0 : plan.to_m;
    rows.stroke.to_m = k % 2 == 0 ? plan.to_m : 0.0;
    const int count = plan.rows / strokes;
    const auto force_N = [&](double x_m) {
      const auto parts = law.parts(law.true_travel_m(x_m));
      return parts.total_N() + law.friction_N(rows.stroke.direction, x_m - rows.stroke.from_m,
                                              at_turn_N, parts.positive_Pa);
    };
    for (int i = 0; i < count; ++i) {
      const double share = (i + place(engine)) / count;
      const double x_m = rows.stroke.from_m + share * (rows.stroke.to_m - rows.stroke.from_m);
      rows.travel_m.push_back(x_m);
      rows.force_N.push_back(force_N(x_m) + plan.noise_N * normal(engine));
    }
    const auto end = law.parts(law.true_travel_m(rows.stroke.to_m));
    at_turn_N = law.friction_N(rows.stroke.direction, rows.stroke.to_m - rows.stroke.from_m,
                               at_turn_N, end.positive_Pa);
    out.strokes.push_back(std::move(rows));
  }
  return out;
}

inline fitting::Reduction reduce(const Sweep& sweep, bool merged = true) {
  fitting::Reduction out(sweep.model.geometry);
  for (const Rows& rows : sweep.strokes) {
    out.begin_stroke(rows.stroke.direction, rows.stroke.from_m);
    out.add(rows.travel_m.data(), rows.force_N.data(), rows.travel_m.size());
    out.end_stroke(rows.stroke.to_m);
  }
  merged ? out.merge() : out.keep_apart();
  return out;
}

}  // namespace quasi_static
