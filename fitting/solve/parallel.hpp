// A few threads for work that falls into equal, independent pieces.
#pragma once

#include <atomic>
#include <thread>
#include <vector>

namespace fitting {

// Calls work(i) for i in 0..count-1 from a few threads, this one among them.
template <class Work>
void for_each_parallel(int count, int threads, Work work) {
  std::atomic<int> next{0};
  const auto loop = [&] {
    for (int i = next++; i < count; i = next++) work(i);
  };
  std::vector<std::jthread> pool;
  for (int i = 1; i < threads && i < count; ++i) pool.emplace_back(loop);
  loop();
}

}  // namespace fitting
