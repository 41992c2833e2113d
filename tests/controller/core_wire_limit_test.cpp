// What the line itself can carry, from the sizes of the frames, and that the core loses no sample
// close to it.
#include <catch2/catch.hpp>
#include <iostream>

#include "tests/support/bench.hpp"

using namespace test_support;

namespace {

constexpr double kLine_bytes_per_s = 50'000.0;  // 500 kbaud, ten bits a byte
constexpr double kStatus_per_s = 20.0;

template <class Message>
int longest_frame() {
  return wire::cobs_size_max(static_cast<uint16_t>(wire::kHeaderSize + wire::kCrcSize +
                                                   [] {
                                                     uint8_t body[wire::kBodyMax];
                                                     wire::FieldWriter fields(body);
                                                     const Message message;
                                                     Message::visit(message, fields);
                                                     return fields.size();
                                                   }())) +
         1;
}

double limit_samples_per_s() {
  return (kLine_bytes_per_s - kStatus_per_s * longest_frame<wire::Status>()) /
         longest_frame<wire::Sample>();
}

}  // namespace

TEST_CASE("wire: at 80 % of what the line can carry no sample is lost", "[core][link]") {
  Bench bench;
  const double limit = limit_samples_per_s();
  const double ticks_per_s = 1000.0 * BenchHal<10>::kTicksPerMs;
  // The shortest whole period at which the line is not yet used to four fifths, less one tick.
  bench.hal.sample_period_ticks = static_cast<int64_t>(ticks_per_s / (0.8 * limit));
  const double samples_per_s = ticks_per_s / static_cast<double>(bench.hal.sample_period_ticks);
  std::cout << "the line: " << kLine_bytes_per_s << " bytes/s; a sample takes "
            << longest_frame<wire::Sample>() << " bytes, a status " << longest_frame<wire::Status>()
            << "; at most " << static_cast<int>(limit) << " samples/s; tried with "
            << static_cast<int>(samples_per_s) << "\n";
  CHECK(samples_per_s >= 0.8 * limit);
  CHECK(samples_per_s < limit);
  bench.say_hello();
  REQUIRE(bench.ask(wire::StartSampling{}) == wire::Refusal::none);
  bench.run_ms(10'000);
  REQUIRE(static_cast<double>(bench.samples.size()) > 8.0 * samples_per_s);
  CHECK(bench.samples.back().number - bench.samples.front().number + 1 == bench.samples.size());
  CHECK(bench.rig.faults() == 0);
}
