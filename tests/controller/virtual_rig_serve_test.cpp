// The virtual rig on its pseudo-terminal, spoken to with plain reads and writes.
#include "controller/virtual_rig/serve.hpp"

#include <fcntl.h>
#include <poll.h>
#include <sys/ioctl.h>
#include <unistd.h>
#include <catch2/catch.hpp>

#include <array>
#include <functional>

#include "controller/virtual_rig/pty.hpp"
#include "protocol/wire/decoder.hpp"
#include "protocol/wire/replies.hpp"
#include "protocol/wire/requests.hpp"

using namespace controller::virtual_rig;
using namespace protocol::wire;
using Catch::Matchers::Contains;
using Catch::Matchers::WithinAbs;

namespace {

const std::string kLarch = SPRINGWRIGHT_SOURCE_DIR "/controller/virtual_rig/forks/larch_160.toml";

// The longest that a busy machine may take; nothing waits for it to pass.
constexpr int kPatience_ms = 20000;

std::unique_ptr<ServedRig> served(Pace pace = Pace::accelerated) {
  ServeOptions options;
  options.pace = pace;
  options.rig.setting.pressure_gauge_Pa = 558475.0;
  auto rig = serve(kLarch, options);
  REQUIRE(rig);
  return std::move(*rig);
}

class PortClient {
 public:
  explicit PortClient(const std::string& path) : port_(::open(path.c_str(), O_RDWR | O_NOCTTY)) {
    REQUIRE(port_.is_open());
  }

  template <class Request>
  void send(const Request& request) {
    const EncodedFrame frame = encode(request, ++sequence_);
    REQUIRE(::write(port_.get(), frame.bytes, frame.size) == frame.size);
  }

  template <class Request>
  Refusal ask(const Request& request) {
    send(request);
    const uint16_t sequence = sequence_;
    Refusal refusal = Refusal::unknown_request;
    REQUIRE(read_until([&](const Frame& frame) {
      Ack ack;
      if (frame.sequence != sequence || !decode(frame, ack)) return false;
      refusal = ack.refusal;
      return true;
    }));
    return refusal;
  }

  // Hands each frame to `last` until it says so. RETURNS false when the port vanished.
  bool read_until(const std::function<bool(const Frame&)>& last) {
    while (true) {
      pollfd file{port_.get(), POLLIN, 0};
      REQUIRE(::poll(&file, 1, kPatience_ms) == 1);
      std::array<uint8_t, 1024> chunk;
      const ssize_t got = ::read(port_.get(), chunk.data(), chunk.size());
      if (got <= 0) return false;
      bool done = false;
      for (ssize_t i = 0; i < got; ++i) {
        if (decoder_.feed(chunk[static_cast<size_t>(i)]) != Verdict::frame) continue;
        Sample sample;
        if (decode(decoder_.frame(), sample)) take(sample);
        done = last(decoder_.frame()) || done;
      }
      if (done) return true;
    }
  }

  void open_session() {
    send(Hello{kProtocolVersion});
    REQUIRE(read_until([](const Frame& frame) {
      HelloReply reply;
      return decode(frame, reply);
    }));
    REQUIRE(ask(SetLimits{-400000, 4000000, -100000, 100000, 1000}) == Refusal::none);
    REQUIRE(ask(StartSampling{}) == Refusal::none);
    while (samples_ < 3) {
      REQUIRE(read_until([](const Frame&) { return true; }));
    }
  }

  Event wait_for_event() {
    Event event;
    REQUIRE(read_until([&](const Frame& frame) { return decode(frame, event); }));
    return event;
  }

  int descriptor() const { return port_.get(); }
  size_t samples() const { return samples_; }
  uint32_t lost() const { return lost_; }

 private:
  // A heartbeat for each 200 ms of the rig's time, as it shows in the samples.
  void take(const Sample& sample) {
    if (samples_ > 0) lost_ += sample.number - last_number_ - 1;
    ++samples_;
    last_number_ = sample.number;
    if (sample.time_us - last_beat_us_ < 200000) return;
    last_beat_us_ = sample.time_us;
    send(Heartbeat{});
  }

  FileDescriptor port_;
  Decoder decoder_;
  uint16_t sequence_ = 0;
  size_t samples_ = 0;
  uint32_t lost_ = 0;
  uint32_t last_number_ = 0;
  uint32_t last_beat_us_ = 0;
};

}  // namespace

TEST_CASE("served rig: a long move over the terminal loses nothing", "[virtual_rig]") {
  const auto rig = served();
  PortClient client(rig->path());
  client.open_session();
  REQUIRE(client.ask(Home{4000, 200, 20000, 800, 200000}) == Refusal::none);
  CHECK(client.wait_for_event().kind == EventKind::homed);
  // 60 mm at 1 mm/s: a minute of the rig's time.
  const size_t before = client.samples();
  REQUIRE(client.ask(Move{24800, 400, 20000}) == Refusal::none);
  CHECK(client.wait_for_event().kind == EventKind::motion_done);
  CHECK_THAT(static_cast<double>(client.samples() - before), WithinAbs(80.0 * 60.0, 100.0));
  CHECK(client.lost() == 0);
}

TEST_CASE("served rig: a host that stops reading slows the rig and never trips it",
          "[virtual_rig]") {
  const auto rig = served();
  PortClient client(rig->path());
  client.open_session();
  REQUIRE(client.ask(Home{4000, 200, 20000, 800, 200000}) == Refusal::none);
  CHECK(client.wait_for_event().kind == EventKind::homed);
  REQUIRE(client.ask(Move{24800, 400, 20000}) == Refusal::none);
  // Nobody reads and nobody beats. Ask the rig itself until it has stopped for that: a last beat
  // may still be on its way, so it must be found at one time again and again.
  constexpr int kLooksAlike = 1000;
  int alike = 0;
  double stands_at_s = 0.0;
  for (int i = 0; i < 200000 && alike < kLooksAlike; ++i) {
    rig->with_rig([&](VirtualRig& inside) {
      const bool waits = !inside.heartbeat_allows_ms() && inside.time_s() == stands_at_s;
      alike = waits ? alike + 1 : 0;
      stands_at_s = inside.time_s();
    });
  }
  CHECK(alike == kLooksAlike);
  rig->with_rig([&](VirtualRig& inside) {
    CHECK(inside.rig().faults() == 0);
    CHECK(inside.rig().motion() == Motion::moving);
  });
  CHECK(client.wait_for_event().kind == EventKind::motion_done);
}

TEST_CASE("served rig: a pulled cable is seen by the host, and by the rig",
          "[virtual_rig][fault]") {
  const auto rig = served();
  PortClient client(rig->path());
  client.open_session();
  rig->with_rig([](VirtualRig& inside) { inside.inject(Fault{FaultKind::unplug, 0.0, {}, {}}); });
  CHECK_FALSE(client.read_until([](const Frame&) { return false; }));
  bool lost = false;
  for (int i = 0; i < 200000 && !lost; ++i) {
    rig->with_rig([&](VirtualRig& inside) { lost = inside.rig().faults() == kFaultHostLost; });
  }
  CHECK(lost);
}

TEST_CASE("served rig: the port can be opened again, and the rig is still there", "[virtual_rig]") {
  const auto rig = served();
  {
    PortClient first(rig->path());
    // As a host does that wants the port for itself alone.
    REQUIRE(ioctl(first.descriptor(), TIOCEXCL) == 0);
    first.open_session();
  }
  PortClient second(rig->path());
  int exclusive = -1;
  REQUIRE(ioctl(second.descriptor(), TIOCGEXCL, &exclusive) == 0);
  CHECK(exclusive == 0);
  second.open_session();
  CHECK(second.ask(Move{0, 400, 20000}) == Refusal::not_homed);
}

TEST_CASE("served rig: in real time a second takes a second", "[virtual_rig]") {
  const auto rig = served(Pace::real_time);
  PortClient client(rig->path());
  client.open_session();
  const auto start = std::chrono::steady_clock::now();
  double start_s = 0.0;
  rig->with_rig([&](VirtualRig& inside) { start_s = inside.time_s(); });
  const size_t before = client.samples();
  while (client.samples() < before + 40) {
    REQUIRE(client.read_until([](const Frame&) { return true; }));
  }
  double end_s = 0.0;
  rig->with_rig([&](VirtualRig& inside) { end_s = inside.time_s(); });
  const double real_s =
      std::chrono::duration<double>(std::chrono::steady_clock::now() - start).count();
  // Because 40 samples are half a second less at most one period; the rest is a busy machine.
  CHECK(end_s - start_s > 0.45);
  CHECK(real_s > 0.45);
  CHECK(end_s - start_s < real_s + 0.05);
}

TEST_CASE("served rig: a plant file that cannot be used is refused", "[virtual_rig]") {
  const auto missing = serve("no/such/fork.toml", {});
  REQUIRE_FALSE(missing);
  CHECK(missing.error().code == protocol::Errc::input_missing);
  ServeOptions stuffed;
  stuffed.rig.setting.spacers = 40;
  const auto full = serve(kLarch, stuffed);
  REQUIRE_FALSE(full);
  CHECK_THAT(full.error().message, Contains("40 spacers do not fit"));
}
