// What the fit claims to know, against what it would really have found: refits of data that are off
// by each of the bench's doubts, and refits of the same data with other noise.
#include "fitting/solve/uncertainty.hpp"

#include <Eigen/Dense>
#include <catch2/catch.hpp>
#include <functional>
#include <map>
#include <memory>
#include <random>

#include "tests/fitting/law_records.hpp"

using namespace fitting;
using Catch::Matchers::WithinAbs;
using Catch::Matchers::WithinRel;

namespace {

// Two sweeps of a made fork at two pressures, and a fit of them with seven free parameters and no
// prior, which starts at the truth.
struct SmallFit {
  std::vector<Path> paths;
  std::vector<SweepModel> models;
  ParameterMap map;
  std::vector<std::unique_ptr<SweepEvidence>> sweeps;
  Problem problem;

  SmallFit() {
    for (const double pressure_Pa : {4.5e5, 6.5e5}) {
      const protocol::SweepRecord record = law_records::sweep({.pressure_Pa = pressure_Pa});
      const auto path = make_path(record, 0.011);
      REQUIRE(path);
      paths.push_back(*path);
      models.push_back({GasLaw::wall_coefficient, law_samples::geometry(),
                        make_circumstances(record.metadata.setting), law_samples::kReference,
                        protocol::GasStart::equilibrium});
    }
    map.given = law_samples::fork();
    map.sweeps = 2;
    for (const LawIndex index : {kPositiveVolume, kNegativeVolume, kPreslidingTravel, kThermalTime})
      map.free.push_back({index, Scale::logarithmic, map.given[index]});
    map.free.push_back({kPreload, Scale::linear, 11.0, 10.0});
    map.free.push_back({kFriction, Scale::linear, 6.5, 10.0});
    map.free.push_back({kTransferTravel, Scale::linear, 3.2e-3, 1e-3});
  }

  // What the measured forces would be if the law were all there is; the cells' means of a curved
  // force lie a little off.
  void make_exact() {
    build();
    for (std::size_t s = 0; s < 2; ++s) {
      const std::vector<double> force_N = follow(models[s], map.given, paths[s]);
      for (std::size_t i = 0; i < force_N.size(); ++i) paths[s].nodes[i].force_N = force_N[i];
    }
  }

  void build(double sample_variance_N2 = 1.0) {
    sweeps.clear();
    problem = {};
    for (const FreeParameter& free : map.free)
      problem.parameters.push_back({std::string(kLawParameters[free.index].name)});
    for (int s = 0; s < 2; ++s) {
      const auto at = static_cast<std::size_t>(s);
      sweeps.push_back(std::make_unique<SweepEvidence>(paths[at], models[at], map, s));
      sweeps.back()->set_sample_variance(sample_variance_N2);
      problem.evidence.push_back(sweeps.back().get());
    }
  }

  std::vector<const SweepEvidence*> list() const { return {sweeps[0].get(), sweeps[1].get()}; }

  Eigen::VectorXd fitted() const {
    SolveOptions options;
    options.relative_cost_change = 1e-14;
    options.relative_step = 1e-12;
    const Solution solution = solve(problem, options);
    REQUIRE(std::isfinite(solution.cost));
    return solution.values;
  }

  Uncertainty uncertainty(const BenchDoubt& bench, double model_error_N = 1.0) const {
    ResidualStructure structure;
    structure.correlation_length_m = 0.02;
    return find_uncertainty(problem, list(), Eigen::VectorXd::Zero(map.size()), structure, bench,
                            model_error_N);
  }
};

using Disturb = std::function<void(SmallFit&, double u)>;

void each_node(SmallFit& fit, const std::function<void(PathNode&)>& change) {
  for (Path& path : fit.paths) {
    for (PathNode& node : path.nodes) change(node);
  }
}

}  // namespace

TEST_CASE("uncertainty: what a doubt shifts is what a refit of such data finds", "[fit]") {
  // Every instrument reads too much by a little, one after the other.
  struct Case {
    double BenchDoubt::*field;
    double u;
    Disturb disturb;
  };
  const std::map<std::string, Case> cases = {
      {"load_cell_gain",
       {&BenchDoubt::gain_relative, 5e-4,
        [](SmallFit& fit, double u) {
          each_node(fit, [u](PathNode& node) { node.force_N *= 1.0 + u; });
        }}},
      {"load_cell_zero",
       {&BenchDoubt::zero_N, 0.1,
        [](SmallFit& fit, double u) {
          each_node(fit, [u](PathNode& node) { node.force_N += u; });
        }}},
      {"travel_zero",
       {&BenchDoubt::travel_zero_m, 1e-5,
        [](SmallFit& fit, double u) {
          each_node(fit, [u](PathNode& node) { node.travel_m += u; });
          for (Path& path : fit.paths) path.start_m += u;
        }}},
      {"travel_scale",
       {&BenchDoubt::travel_relative, 1e-4,
        [](SmallFit& fit, double u) {
          each_node(fit, [u](PathNode& node) { node.travel_m *= 1.0 + u; });
        }}},
      {"frame_deflection",
       {&BenchDoubt::frame_m_N, 1e-8,
        [](SmallFit& fit, double u) {
          each_node(fit, [u](PathNode& node) { node.travel_m += u * node.force_N; });
        }}},
      {"pressure_gauge",
       {&BenchDoubt::gauge_relative, 1e-3,
        [](SmallFit& fit, double u) {
          for (SweepModel& model : fit.models) model.at.pressure_gauge_Pa *= 1.0 + u;
        }}},
      {"gauge_reading",
       {&BenchDoubt::gauge_reading_Pa, 300.0,
        [](SmallFit& fit, double u) {
          for (SweepModel& model : fit.models) model.at.pressure_gauge_Pa += u;
        }}},
      {"damper_rod_area",
       {&BenchDoubt::rod_area_m2, 4e-7,
        [](SmallFit& fit, double u) { fit.map.given[kDamperRodArea] += u; }}},
      {"stroke_drag", {&BenchDoubt::stroke_drag_N, 0.1, [](SmallFit& fit, double u) {
                         each_node(fit, [u](PathNode& n) { n.force_N += n.direction * u; });
                       }}}};
  SmallFit base;
  base.make_exact();
  base.build();
  BenchDoubt bench;
  for (const auto& [name, item] : cases) bench.*item.field = item.u;
  const Uncertainty known = base.uncertainty(bench);
  REQUIRE(known.doubts.size() == cases.size());
  REQUIRE(base.fitted().norm() < 1e-6);
  for (const Doubt& doubt : known.doubts) {
    const Case& item = cases.at(doubt.name);
    CHECK(doubt.standard_uncertainty == item.u);
    SmallFit refit;
    refit.make_exact();
    item.disturb(refit, item.u);
    refit.build();
    const Eigen::VectorXd found = refit.fitted();
    const double largest = doubt.shift.lpNorm<Eigen::Infinity>();
    REQUIRE(largest > 0.0);
    CAPTURE(doubt.name);
    CHECK(found.dot(doubt.shift) > 0.85 * found.norm() * doubt.shift.norm());
    // Because the refit is not quite linear.
    const double slack = 5e-3 * largest;
    for (Eigen::Index i = 0; i < found.size(); ++i) {
      CAPTURE(base.problem.parameters[std::size_t(i)].name, doubt.shift(i), found(i));
      CHECK(std::abs(found(i) - doubt.shift(i)) <= 0.03 * std::abs(doubt.shift(i)) + slack);
    }
  }
}

TEST_CASE("uncertainty: the statistical covariance is what other noise would give", "[fit]") {
  SmallFit fit;
  fit.make_exact();
  const double noise_N = 1.5;
  fit.build(noise_N * noise_N);
  const Eigen::MatrixXd claimed = fit.uncertainty({}).statistical;
  const std::vector<Path> clean = fit.paths;
  std::mt19937_64 engine(5);
  std::normal_distribution<double> normal;
  const int seeds = 80;
  double sum = 0.0;
  Eigen::VectorXd squares = Eigen::VectorXd::Zero(fit.map.size());
  const Eigen::MatrixXd weight = claimed.inverse();
  for (int seed = 0; seed < seeds; ++seed) {
    for (std::size_t s = 0; s < 2; ++s) {
      for (std::size_t i = 0; i < clean[s].nodes.size(); ++i) {
        if (clean[s].nodes[i].rows == 0) continue;
        fit.paths[s].nodes[i].force_N =
            clean[s].nodes[i].force_N +
            noise_N * normal(engine) / std::sqrt(clean[s].nodes[i].rows);
      }
    }
    const Eigen::VectorXd values = fit.fitted();
    sum += values.dot(weight * values);
    squares += values.cwiseAbs2();
  }
  // Seven degrees of freedom. Because the mean of 80 chi-squares of 7 scatters by 0.42: three times
  // that.
  CHECK_THAT(sum / seeds, WithinAbs(7.0, 1.3));
  for (Eigen::Index i = 0; i < squares.size(); ++i) {
    // Because a standard deviation from 80 values is known to 8 %: three times that.
    CHECK_THAT(std::sqrt(squares(i) / seeds), WithinRel(std::sqrt(claimed(i, i)), 0.24));
  }
}

TEST_CASE("uncertainty: a parameter that the data cannot tell is seen in the rank", "[fit]") {
  SmallFit fit;
  fit.make_exact();
  fit.build();
  const Uncertainty sound = fit.uncertainty({});
  CHECK(sound.rank == 7);
  CHECK(sound.singular_values(6) > 1e-4 * sound.singular_values(0));
  // The heat of an exponent that the heat law does not have.
  fit.map.free.push_back({kExponent, Scale::linear, 1.0, 0.1});
  fit.build();
  const Uncertainty lacking = fit.uncertainty({});
  CHECK(lacking.rank == 7);
  CHECK(lacking.statistical.allFinite());
  CHECK(lacking.statistical(7, 7) > 1e6);
  CHECK_THAT(lacking.statistical(0, 0), WithinRel(sound.statistical(0, 0), 1e-6));
  // The same volume twice: two columns that are one.
  fit.map.free.back() = {kSpacerVolume, Scale::linear, 7e-6, 1e-6};
  fit.build();
  CHECK(fit.uncertainty({}).rank == 7);  // one spacer in every sweep
}

TEST_CASE("uncertainty: the model's own error counts once however many samples there are",
          "[fit]") {
  SmallFit fit;
  fit.make_exact();
  fit.build(1.0);
  const Uncertainty few = fit.uncertainty({}, 2.0);
  fit.build(0.01);  // a hundred times the samples
  const Uncertainty many = fit.uncertainty({}, 2.0);
  const Uncertainty twice = fit.uncertainty({}, 4.0);
  for (Eigen::Index i = 0; i < 7; ++i) {
    CHECK_THAT(many.statistical(i, i), WithinRel(0.01 * few.statistical(i, i), 1e-6));
    CHECK_THAT(many.discrepancy(i, i), WithinRel(few.discrepancy(i, i), 1e-6));
    CHECK_THAT(twice.discrepancy(i, i), WithinRel(4.0 * many.discrepancy(i, i), 1e-6));
    CHECK(many.discrepancy(i, i) > 0.0);
  }
  BenchDoubt bench;
  bench.gain_relative = 0.005;
  const Uncertainty with = fit.uncertainty(bench, 2.0);
  REQUIRE(with.doubts.size() == 1);
  const Eigen::MatrixXd expected =
      with.statistical + with.discrepancy + with.doubts[0].shift * with.doubts[0].shift.transpose();
  CHECK((with.total() - expected).norm() <= 1e-12 * expected.norm());
}

TEST_CASE("uncertainty: an error of the stated size moves a refit as far as stated", "[fit]") {
  // Random errors of the stated amplitude and length along travel, the same in every stroke of one
  // direction, half of the variance common to the sweeps.
  SmallFit fit;
  fit.make_exact();
  fit.build();
  const double amplitude_N = 0.2;  // so small that the refit stays linear
  const double length_m = 0.02;
  const Eigen::MatrixXd claimed = fit.uncertainty({}, amplitude_N).discrepancy;
  const std::vector<Path> clean = fit.paths;
  std::mt19937_64 engine(11);
  std::normal_distribution<double> normal;
  const int draws = 60;
  Eigen::VectorXd squares = Eigen::VectorXd::Zero(7);
  double power_N2 = 0.0;
  double nodes = 0.0;
  for (int draw = 0; draw < draws; ++draw) {
    // Smooth noise: cosines with the spectrum of a Gaussian of that length.
    struct Wave {
      double number, phase;
    };
    const auto field = [&] {
      std::vector<Wave> waves(40);
      for (Wave& wave : waves) {
        wave = {normal(engine) / (std::sqrt(2.0) * length_m),
                2.0 * std::numbers::pi * normal(engine)};
      }
      return waves;
    };
    const auto at = [](const std::vector<Wave>& waves, double x_m) {
      double sum = 0.0;
      for (const Wave& wave : waves) sum += std::cos(wave.number * x_m + wave.phase);
      return sum * std::sqrt(2.0 / double(waves.size()));
    };
    std::vector<Wave> common[2] = {field(), field()};
    for (std::size_t s = 0; s < 2; ++s) {
      const std::vector<Wave> own[2] = {field(), field()};
      for (std::size_t i = 0; i < clean[s].nodes.size(); ++i) {
        const PathNode& node = clean[s].nodes[i];
        const int way = node.direction > 0 ? 0 : 1;
        const double error_N = amplitude_N * std::sqrt(0.5) *
                               (at(common[way], node.travel_m) + at(own[way], node.travel_m));
        fit.paths[s].nodes[i].force_N = node.force_N + error_N;
        power_N2 += error_N * error_N;
        nodes += 1.0;
      }
    }
    squares += fit.fitted().cwiseAbs2();
  }
  CHECK_THAT(std::sqrt(power_N2 / nodes), WithinRel(amplitude_N, 0.1));
  for (Eigen::Index i = 0; i < 7; ++i) {
    CAPTURE(fit.problem.parameters[std::size_t(i)].name);
    // Because 60 draws tell a standard deviation to 9 %, and the bumps stand on a coarse grid.
    CHECK_THAT(std::sqrt(squares(i) / draws), WithinRel(std::sqrt(claimed(i, i)), 0.35));
  }
}

TEST_CASE("model error: never below its floor, larger where parameters took up some of it",
          "[fit]") {
  ResidualStructure structure;
  structure.structured_N = 0.1;
  CHECK_THAT(model_error_N(structure, true, 12, 4, 1500.0), WithinRel(1.5, 1e-12));
  CHECK(model_error_N(structure, false, 12, 4, 1500.0) > 1.5);
  structure.structured_N = 5.0;
  const double many_sweeps_N = model_error_N(structure, true, 12, 40, 1500.0);
  CHECK_THAT(many_sweeps_N, WithinRel(5.0, 0.01));
  CHECK(model_error_N(structure, true, 12, 1, 1500.0) > 1.1 * many_sweeps_N);
  CHECK(model_error_N(structure, false, 12, 1, 1500.0) >
        2.0 * model_error_N(structure, true, 12, 1, 1500.0));
}
