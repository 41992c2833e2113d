#include "tests/benchmarks/pair_study/pair_study.hpp"

#include <algorithm>
#include <cmath>
#include <optional>

#include "fitting/compare/comparison.hpp"
#include "fitting/curve/curve_json.hpp"
#include "fitting/solve/fork_fit.hpp"
#include "fitting/solve/parallel.hpp"
#include "protocol/error.hpp"
#include "tests/benchmarks/fit_study/drawn_fork.hpp"

namespace pair_study {
namespace {

using namespace fitting;
using fit_study::DrawnFork;

constexpr double kCoverage95 = 2.0;  // as the product states it

struct Fork {
  DrawnFork drawn;
  std::optional<FittedModel> model;  // none: not usable
  double reading_Pa = 0.0;

  explicit Fork(DrawnFork fork) : drawn(std::move(fork)) {
    FitOptions options;
    options.threads = 1;
    auto fitted = fit_fork(drawn.sweeps(), options);
    ENSURE(fitted);
    if (!fitted->usable) return;
    reading_Pa = fitted->context.mean_pressure_gauge_Pa;
    model = std::move(*fitted);
  }

  Subject subject(const char* name) const {
    return {name, std::nullopt, model_subject(*model, reading_Pa, 0), {}};
  }

  // What the plant does in a settled cycle, at the travels asked for.
  std::vector<double> true_midline_N(double pressure_Pa, const std::vector<double>& at_m) const {
    const auto cycle = drawn.truth(pressure_Pa)
                           .settled_cycle(drawn.speed_m_s(), 0.0, model->context.swept_travel_m);
    std::vector<double> out;
    for (double x_m : at_m) {
      const auto right =
          std::clamp(std::upper_bound(cycle.travel_m.begin(), cycle.travel_m.end(), x_m),
                     cycle.travel_m.begin() + 1, cycle.travel_m.end() - 1);
      const auto j = static_cast<std::size_t>(right - cycle.travel_m.begin());
      const double share =
          (x_m - cycle.travel_m[j - 1]) / (cycle.travel_m[j] - cycle.travel_m[j - 1]);
      const auto mid_N = [&](std::size_t k) {
        return 0.5 * (cycle.compression_N[k] + cycle.rebound_N[k]);
      };
      out.push_back((1.0 - share) * mid_N(j - 1) + share * mid_N(j));
    }
    return out;
  }
};

struct Two {
  Fork a;
  Fork b;
  bool usable() const { return a.model && b.model; }
  // Nothing where a fit is not usable.
  std::optional<Comparison> compared() const {
    if (!usable()) return std::nullopt;
    const auto said = compare(a.subject("a"), b.subject("b"));
    ENSURE(said);
    return *said;
  }
};

Two draw_two(std::uint64_t seed) {
  const DrawnFork a(2 * seed);
  return {Fork(a), Fork(DrawnFork(2 * seed + 1).on_bench_of(a))};
}

std::vector<double> true_difference_N(const Two& two, const std::vector<double>& at_m) {
  std::vector<double> out =
      two.a.true_midline_N(two.a.drawn.true_pressure_Pa(two.a.reading_Pa), at_m);
  const std::vector<double> b =
      two.b.true_midline_N(two.b.drawn.true_pressure_Pa(two.b.reading_Pa), at_m);
  for (std::size_t i = 0; i < out.size(); ++i) out[i] -= b[i];
  return out;
}

std::vector<double> crossings_m(const std::vector<double>& at_m, const std::vector<double>& N) {
  std::vector<double> out;
  for (std::size_t i = 1; i < N.size(); ++i) {
    if ((N[i] > 0.0) == (N[i - 1] > 0.0)) continue;
    out.push_back(at_m[i - 1] + (at_m[i] - at_m[i - 1]) * N[i - 1] / (N[i - 1] - N[i]));
  }
  return out;
}

void count_crossovers(const Comparison& said, const std::vector<double>& truth_m, Compared& out) {
  for (const Crossover& crossover : said.crossings.crossovers) {
    ++out.crossovers;
    out.held += std::any_of(truth_m.begin(), truth_m.end(), [&](double x_m) {
      return std::abs(x_m - crossover.travel_m) <= kCoverage95 * crossover.standard_uncertainty_m;
    });
  }
}

// Truth that says the opposite somewhere in the span, by more than the difference's own standard
// uncertainty there.
void count_spans(const Comparison& said, const std::vector<double>& truth_N, Compared& out) {
  for (const Span& span : said.spans) {
    if (span.firmer == Firmer::neither) continue;
    ++out.firmer;
    const double sign = span.firmer == Firmer::a ? 1.0 : -1.0;
    bool wrong = false;
    for (std::size_t i = 0; i < truth_N.size(); ++i) {
      const double x_m = said.difference.travel_m[i];
      if (x_m < span.from_m || x_m > span.to_m) continue;
      wrong = wrong || -sign * truth_N[i] > said.difference.standard_uncertainty_N(Eigen::Index(i));
    }
    out.wrong += wrong;
  }
}

Side fresh_side(const Fork& fork, const DrawnFork& mounted, double reading_Pa, int spacers) {
  const auto answer = answer_curve("fresh", mounted.sweep_at(reading_Pa, spacers, 5), {}, {});
  ENSURE(answer);
  Side out = side_from_record(*answer);
  out.name = fork.model->fork.name;
  return out;
}

}  // namespace

Compared compare_drawn(std::uint64_t seed) {
  Compared out;
  out.seed = seed;
  const Two two = draw_two(seed);
  const std::optional<Comparison> said = two.compared();
  out.usable = said.has_value();
  if (!said) return out;
  const std::vector<double> truth_N = true_difference_N(two, said->difference.travel_m);
  count_crossovers(*said, crossings_m(said->difference.travel_m, truth_N), out);
  count_spans(*said, truth_N, out);
  return out;
}

SameFork compare_with_itself(std::uint64_t seed) {
  SameFork out;
  out.seed = seed;
  const DrawnFork first(2 * seed);
  const Two two{Fork(first), Fork(first.mounted_anew(2 * seed + 1))};
  out.usable = two.usable();
  if (!out.usable) return out;
  Subject a = two.a.subject("first");
  Subject b = two.b.subject("again");
  b.model->setting.pressure_gauge_Pa = a.model->setting.pressure_gauge_Pa;
  const auto said = compare(a, b);
  ENSURE(said);
  out.called_different = std::any_of(said->spans.begin(), said->spans.end(), [](const Span& span) {
    return span.firmer != Firmer::neither;
  });
  return out;
}

Promise match_drawn(std::uint64_t seed) {
  Promise out;
  out.seed = seed;
  const Two two = draw_two(seed);
  const std::optional<Comparison> said = two.compared();
  out.usable = said.has_value();
  if (!said || !said->nearest) return out;
  const NearestSetting& told = *said->nearest;
  const Side a = fresh_side(two.a, two.a.drawn.mounted_anew(4 * seed + 1), two.a.reading_Pa, 0);
  const Side b = fresh_side(two.b, two.b.drawn.mounted_anew(4 * seed + 3), told.pressure_gauge_Pa,
                            told.spacers);
  const auto measured = difference_of(a, b);
  ENSURE(measured);
  const std::vector<Span> thirds = find_thirds(*measured);
  for (std::size_t i = 0; i < thirds.size(); ++i) {
    const Span& promised = told.promised[i];
    const double doubt_N =
        std::hypot(promised.standard_uncertainty_N, thirds[i].standard_uncertainty_N);
    ++out.thirds;
    out.kept +=
        std::abs(thirds[i].mean_difference_N - promised.mean_difference_N) <= kCoverage95 * doubt_N;
  }
  return out;
}

template <class Answer>
std::vector<Answer> many(Answer (*one)(std::uint64_t), int count, std::uint64_t first,
                         int threads) {
  std::vector<Answer> out(static_cast<std::size_t>(count));
  for_each_parallel(count, threads, [&](int i) {
    out[static_cast<std::size_t>(i)] = one(first + static_cast<std::uint64_t>(i));
  });
  return out;
}

template std::vector<Compared> many(Compared (*)(std::uint64_t), int, std::uint64_t, int);
template std::vector<SameFork> many(SameFork (*)(std::uint64_t), int, std::uint64_t, int);
template std::vector<Promise> many(Promise (*)(std::uint64_t), int, std::uint64_t, int);

}  // namespace pair_study
