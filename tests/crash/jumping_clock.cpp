// Loaded before a program's own libraries: the wall clock jumps back by a day and forward again at
// every other call, as a clock that is being set. The monotonic clock is left alone.
#include <dlfcn.h>
#include <time.h>

#include <atomic>

extern "C" int clock_gettime(clockid_t clock, struct timespec* time) {
  using Call = int (*)(clockid_t, struct timespec*);
  static const Call real = reinterpret_cast<Call>(dlsym(RTLD_NEXT, "clock_gettime"));
  static std::atomic<unsigned> calls{0};
  const int result = real(clock, time);
  constexpr time_t kDay_s = 86400;
  if (clock == CLOCK_REALTIME && calls++ % 2 == 1) time->tv_sec -= kDay_s;
  return result;
}
