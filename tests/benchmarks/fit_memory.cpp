// Ten million samples fitted without keeping one: they are reduced as they come, as from a rig.
//
// Usage: fit_memory [SAMPLES]. Prints the fit and the most memory the program ever held.
#include <fmt/format.h>
#include <sys/resource.h>

#include <cstdlib>
#include <random>

#include "tests/benchmarks/speed/ours.hpp"

namespace {

using namespace fitting;

constexpr std::size_t kPiece = 4096;

// One sweep's strokes, each row made, added and forgotten.
Reduction stream(const quasi_static::Sweep& sweep, const LawParameters<double>& truth,
                 std::size_t rows, unsigned seed) {
  Reduction out(sweep.model.geometry);
  const ExponentLaw<double> law(truth, sweep.model.geometry, sweep.model.at);
  std::mt19937_64 engine(seed);
  std::normal_distribution<double> noise_N(0.0, 1.5);
  std::vector<double> travel_m(kPiece);
  std::vector<double> force_N(kPiece);
  double at_turn_N = 0.0;
  for (const quasi_static::Rows& plan : sweep.strokes) {
    const Stroke& stroke = plan.stroke;
    const std::size_t count = rows / sweep.strokes.size();
    out.begin_stroke(stroke.direction, stroke.from_m);
    for (std::size_t at = 0; at < count; at += kPiece) {
      const std::size_t piece = std::min(kPiece, count - at);
      for (std::size_t i = 0; i < piece; ++i) {
        const double share = (double(at + i) + 0.5) / double(count);
        travel_m[i] = stroke.from_m + share * (stroke.to_m - stroke.from_m);
        const auto parts = law.parts(travel_m[i]);
        force_N[i] = parts.total_N() + noise_N(engine) +
                     law.friction_N(stroke.direction, travel_m[i] - stroke.from_m, at_turn_N,
                                    parts.positive_Pa);
      }
      out.add(travel_m.data(), force_N.data(), piece);
    }
    out.end_stroke(stroke.to_m);
    at_turn_N = law.friction_N(stroke.direction, stroke.to_m - stroke.from_m, at_turn_N,
                               law.parts(stroke.to_m).positive_Pa);
  }
  out.merge();
  return out;
}

}  // namespace

int main(int argc, char** argv) {
  const std::size_t samples =
      argc > 1 ? static_cast<std::size_t>(std::strtoull(argv[1], nullptr, 10)) : 10'000'000;
  const speed::DataSet set = speed::make_joint();
  std::vector<Reduction> reductions;
  std::size_t rows = 0;
  for (std::size_t s = 0; s < set.sweeps.size(); ++s) {
    reductions.push_back(
        stream(set.sweeps[s], set.truth, samples / set.sweeps.size(), unsigned(s) + 1));
    rows += reductions.back().rows();
  }
  std::vector<ReducedEvidence> evidence;
  for (std::size_t s = 0; s < reductions.size(); ++s) {
    evidence.emplace_back(reductions[s], set.sweeps[s].model, set.map, static_cast<int>(s));
  }
  Problem problem;
  for (const ReducedEvidence& each : evidence) problem.evidence.push_back(&each);
  for (const FreeParameter& free : set.map.free) {
    problem.parameters.push_back({std::string(kLawParameters[free.index].name)});
  }
  const Solution solution = solve_from(problem, set.start, {.relative_cost_change = 1e-10});
  rusage usage{};
  getrusage(RUSAGE_SELF, &usage);
  fmt::print("{} samples, {}; positive volume {:+.2g} of the truth off; most memory {:.1f} MB\n",
             rows, solution.converged ? "converged" : "not converged", solution.values(0),
             double(usage.ru_maxrss) / 1024.0);
  return solution.converged && usage.ru_maxrss < 200 * 1024 ? 0 : 1;
}
