// How fast the decoder is: against memcpy over the same bytes in the same run, and against what a
// rig of 10,000 samples a second sends. Usage: decoder_speed
#include <algorithm>
#include <chrono>
#include <cstdio>
#include <cstring>
#include <random>
#include <vector>

#include "protocol/wire/decoder.hpp"
#include "protocol/wire/replies.hpp"

namespace {

namespace wire = protocol::wire;
using Clock = std::chrono::steady_clock;

constexpr size_t kFrames = 400'000;
constexpr int kRounds = 15;
constexpr double kRigSamples_per_s = 10'000.0;

std::vector<uint8_t> line_of_samples() {
  std::mt19937 random(1);
  std::vector<uint8_t> line;
  wire::Sample sample;
  for (size_t i = 0; i < kFrames; ++i) {
    sample.number = static_cast<uint32_t>(i);
    sample.time_us = static_cast<uint32_t>(i * 100);
    sample.position_steps = static_cast<int32_t>(i / 3);
    sample.load_counts = 1'000'000 + static_cast<int32_t>(random() % 4000);
    const wire::EncodedFrame frame = wire::encode(sample, static_cast<uint16_t>(i));
    line.insert(line.end(), frame.bytes, frame.bytes + frame.size);
  }
  return line;
}

// The least of several: what the machine can do when nothing disturbs it.
template <class Work>
double least_s(Work work) {
  double least = 1e9;
  for (int i = 0; i < kRounds; ++i) {
    const Clock::time_point begin = Clock::now();
    work();
    least = std::min(least, std::chrono::duration<double>(Clock::now() - begin).count());
  }
  return least;
}

}  // namespace

int main() {
  const std::vector<uint8_t> line = line_of_samples();
  std::vector<uint8_t> copy(line.size());
  uint64_t frames = 0;
  int64_t sum = 0;
  const double copying_s = least_s([&] { std::memcpy(copy.data(), line.data(), line.size()); });
  const double decoding_s = least_s([&] {
    wire::Decoder decoder;
    frames = 0;
    for (const uint8_t byte : line) {
      if (decoder.feed(byte) != wire::Verdict::frame) continue;
      wire::Sample sample;
      if (!wire::decode(decoder.frame(), sample)) continue;
      ++frames;
      sum += sample.load_counts;
    }
  });
  if (frames != kFrames || copy != line || sum == 0) {
    std::fprintf(stderr, "%llu of %zu frames were decoded\n",
                 static_cast<unsigned long long>(frames), kFrames);
    return 1;
  }
  const double bytes = static_cast<double>(line.size());
  const double rig_bytes_per_s = bytes / static_cast<double>(kFrames) * kRigSamples_per_s;
  std::printf("decoder %.0f MB/s; memcpy %.0f MB/s; memcpy is %.0f times as fast\n",
              bytes / decoding_s / 1e6, bytes / copying_s / 1e6, decoding_s / copying_s);
  std::printf("%.0f times what a rig of 10 kHz sends (%.0f kB/s in frames of %.1f bytes)\n",
              bytes / decoding_s / rig_bytes_per_s, rig_bytes_per_s / 1e3,
              bytes / static_cast<double>(kFrames));
  return 0;
}
