// How late each stop is at worst, with the real binary in simulated time, over phases by chance.
// Usage: chip_latency [TRIALS]
#include <cstdio>
#include <cstdlib>

#include "tests/firmware/latency_trials.hpp"

int main(int argc, char** argv) {
  const int trials = argc > 1 ? std::atoi(argv[1]) : 300;
  if (trials < 1) {
    std::fprintf(stderr, "usage: chip_latency [TRIALS]\n");
    return 2;
  }
  std::printf("%-38s %10s %12s %12s\n", "worst of the trials", "trials", "late, us", "steps after");
  using tests::StopCause;
  for (const StopCause cause : {StopCause::emergency_stop, StopCause::limit_switch,
                                StopCause::over_limit, StopCause::host_silent}) {
    const tests::Worst worst = tests::worst_of(tests::run_trials(cause, trials, 1));
    std::printf("%-38s %10d %12.2f %12llu%s\n", tests::name_of(cause), trials, worst.late_us,
                static_cast<unsigned long long>(worst.steps_after),
                worst.not_latched == 0 ? "" : "   FAULT NOT TOLD");
  }
  const tests::MemoryUsed memory = tests::memory_used();
  std::printf("memory: %d bytes static, %d bytes of stack at the deepest, of 2048\n",
              memory.static_bytes, memory.stack_bytes);
  return 0;
}
