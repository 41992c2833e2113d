// The host on a line without a speed: ten thousand samples a second, and none is lost.
#include <catch2/catch.hpp>

#include "controller/host/press.hpp"
#include "controller/host/serial_link.hpp"
#include "tests/benchmarks/line/streaming_rig.hpp"

namespace {

namespace host = controller::host;

struct Counter final : host::SampleListener {
  protocol::Result<void> take(const host::TimedSample& sample) override {
    if (samples == 0) first = sample.number;
    ++samples;
    last = sample.number;
    return {};
  }
  uint64_t samples = 0;
  uint32_t first = 0;
  uint32_t last = 0;
};

}  // namespace

TEST_CASE("fast line: 10,000 samples a second on a pseudo-terminal, and none is lost",
          "[host][serial]") {
  tests::StreamingRig rig(10'000.0);
  const auto link = host::SerialLink::open(rig.path());
  REQUIRE(link);
  host::StopFlag stop;
  host::Session session(**link, {}, {});
  host::Press press(session, host::make_instruments(protocol::Bench(), nullptr, nullptr, nullptr),
                    {}, stop);
  REQUIRE(session.open());
  REQUIRE(press.prepare());
  Counter counter;
  press.set_listener(&counter);
  constexpr uint64_t kSamples = 20'000;
  const auto done = press.wait_until([&] { return counter.samples >= kSamples; });
  if (!done) UNSCOPED_INFO(done.error().message);
  REQUIRE(done);
  CHECK(session.counters().lost_samples == 0);
  CHECK(session.counters().bad_frames == 0);
  CHECK(session.samples().overflowed() == 0);
  CHECK(counter.last - counter.first + 1 == counter.samples);
}
