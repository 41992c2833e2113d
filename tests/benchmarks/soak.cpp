// A day at the bench in virtual time: one session, a long sweep and some short ones every hour,
// record after record. Memory must not grow. Usage: soak [HOURS]     24 Prints a line every hour:
// sweeps, rows, heap in use after the last one. Exit status 1 where a sweep failed or the heap
// grew.
#include <malloc.h>

#include <cstdio>
#include <cstdlib>

#include "tests/support/host_bench.hpp"

namespace {

using namespace test_support;

// What the heap may grow by once every buffer has found its size.
constexpr int64_t kGrowthMax_bytes = 64 * 1024;

int64_t heap_bytes() {
  return static_cast<int64_t>(mallinfo2().uordblks);
}

struct Totals {
  int sweeps = 0;
  uint64_t rows = 0;
};

// A sweep whose record is thrown away, as after a copy to the archive.
bool sweep(HostBench& bench, double to_m, double speed_m_s, int cycles, Totals& totals) {
  TemporaryFolder folder;
  host::SweepPlan plan = tiny_plan(folder / "soak.csv", bench.setting);
  plan.to_m = to_m;
  plan.speed_m_s = speed_m_s;
  plan.measuring_cycles = cycles;
  plan.top_out.zero_samples = 80;
  host::AgreeingOperator person;
  const auto checked = host::go_through({}, person, bench.host.stop);
  const auto outcome = host::Sweep(bench.host.press, bench.files, plan, person, *checked).run();
  if (!outcome || outcome->afterwards || outcome->lost_samples != 0) {
    std::fprintf(stderr, "a sweep failed: %s\n",
                 !outcome              ? outcome.error().message.c_str()
                 : outcome->afterwards ? outcome->afterwards->message.c_str()
                                       : "samples were lost");
    return false;
  }
  ++totals.sweeps;
  totals.rows += outcome->rows;
  return true;
}

double hours(const HostBench& bench) {
  return std::chrono::duration<double>(bench.link.now()).count() / 3600.0;
}

}  // namespace

int main(int argc, char** argv) {
  const double until_hours = argc > 1 ? std::atof(argv[1]) : 24.0;
  HostBench bench;
  if (!bench.host.session.open()) return 1;
  Totals totals;
  int64_t settled_bytes = 0;
  while (hours(bench) < until_hours) {
    bool good = sweep(bench, 0.100, 0.0001, 1, totals);  // more than half an hour
    for (int i = 0; good && i < 20; ++i) good = sweep(bench, 0.060, 0.010, 3, totals);
    if (!good) return 1;
    const int64_t used_bytes = heap_bytes();
    if (settled_bytes == 0) settled_bytes = used_bytes;
    std::printf("%5.1f h: %d sweeps, %llu rows, %.1f kB of heap in use\n", hours(bench),
                totals.sweeps, static_cast<unsigned long long>(totals.rows),
                static_cast<double>(used_bytes) / 1e3);
    std::fflush(stdout);
    if (used_bytes > settled_bytes + kGrowthMax_bytes) {
      std::fprintf(stderr, "the heap grew by %lld bytes\n",
                   static_cast<long long>(used_bytes - settled_bytes));
      return 1;
    }
  }
  return 0;
}
