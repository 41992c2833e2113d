// Ours, GSL and cminpack on the same data in one run, and the data written out for SciPy.
//
// Prints lines of: set, who, milliseconds (median), the six values over the truth less one.
// Usage: quasi_static_peers DIR
#include <fmt/format.h>

#include <algorithm>
#include <fstream>

#include "tests/benchmarks/peers/rows.hpp"
#include "tests/benchmarks/speed/ours.hpp"

namespace {

double median(std::vector<double> values) {
  std::sort(values.begin(), values.end());
  return values[values.size() / 2];
}

void print(const std::string& set, const std::string& who, double ms,
           const std::vector<double>& values) {
  fmt::print("{} {} {:.4f}", set, who, ms);
  for (double value : values) fmt::print(" {:.12g}", value);
  fmt::print("\n");
}

// Each for itself, again and again for half a second, so that none finds the processor as another
// left it.
constexpr double kLong_ms = 500.0;
constexpr std::size_t kFewest = 7;

template <class Work>
void repeat(Work work) {
  const double begin = speed::now_ms();
  for (std::size_t i = 0; i < kFewest || speed::now_ms() - begin < kLong_ms; ++i) work();
}

void run_ours(const std::string& name, const speed::DataSet& set) {
  std::vector<double> total, both, reduce, solve, certify, pass;
  speed::Fit fit;
  repeat([&] { both.push_back(speed::fit(set, 2).total_ms()); });
  repeat([&] {
    fit = speed::fit(set);
    total.push_back(fit.total_ms());
    reduce.push_back(fit.reduce_ms);
    solve.push_back(fit.solve_ms);
    certify.push_back(fit.certify_ms);
  });
  repeat([&] { pass.push_back(speed::pass_ms(set)); });
  print(name, "ours", median(total), {fit.values.begin(), fit.values.end()});
  print(name, "ours_two_threads", median(both), {fit.values.begin(), fit.values.end()});
  fmt::print("{} parts {:.4f} {:.4f} {:.4f} {:.4f} {:.3g}\n", name, median(reduce), median(solve),
             median(certify), median(pass), fit.certificate.largest_step);
  const speed::Replicates drawn = speed::draw_strokes(set, fit.values);
  if (drawn.refused.empty()) {
    fmt::print("{} bootstrap {:.4f} {}\n", name, drawn.ms, drawn.failed);
  } else {
    fmt::print("{} bootstrap_refused {}\n", name, drawn.refused);
  }
}

template <class Solver>
void run_peer(const std::string& name, const char* who, const speed::DataSet& set, Solver solver) {
  peers::Rows rows(set);
  std::vector<double> ms;
  peers::Outcome outcome;
  repeat([&] {
    const double begin = speed::now_ms();
    outcome = solver(rows);
    ms.push_back(speed::now_ms() - begin);
  });
  print(name, who, median(ms), outcome.values);
}

// Per row: travel, force, direction, reversal, whether it is a first stroke, pressure, spacers.
void write(const std::string& path, const speed::DataSet& set) {
  std::ofstream out(path, std::ios::binary);
  for (const quasi_static::Sweep& sweep : set.sweeps) {
    for (std::size_t k = 0; k < sweep.strokes.size(); ++k) {
      const quasi_static::Rows& rows = sweep.strokes[k];
      for (std::size_t i = 0; i < rows.travel_m.size(); ++i) {
        const double row[] = {rows.travel_m[i],
                              rows.force_N[i],
                              double(rows.stroke.direction),
                              rows.stroke.from_m,
                              k == 0 ? 1.0 : 0.0,
                              sweep.model.at.pressure_gauge_Pa,
                              double(sweep.model.at.spacers)};
        out.write(reinterpret_cast<const char*>(row), sizeof row);
      }
    }
  }
}

}  // namespace

int main(int argc, char** argv) {
  if (argc != 2) {
    fmt::print(stderr, "usage: quasi_static_peers DIR\n");
    return 2;
  }
  fmt::print("instructions {}\n", fitting::instruction_set());
  for (const bool joint : {false, true}) {
    const std::string name = joint ? "joint" : "small";
    const speed::DataSet set = joint ? speed::make_joint() : speed::make_small();
    write(fmt::format("{}/{}.bin", argv[1], name), set);
    run_ours(name, set);
    run_peer(name, "gsl", set, peers::fit_gsl);
    run_peer(name, "cminpack", set, peers::fit_cminpack);
  }
  return 0;
}
