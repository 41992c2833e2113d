// The conversation with a rig, against a peer that errs on purpose.
#include "controller/host/session.hpp"

#include <catch2/catch.hpp>

#include "tests/support/scripted_peer.hpp"

namespace {

using namespace controller::host;
using namespace test_support;
using Catch::Matchers::Contains;
using protocol::Errc;
using std::chrono::milliseconds;

struct Conversation {
  Conversation() = default;
  void open() {
    const auto opened = session.open();
    REQUIRE(opened);
  }
  void listen(milliseconds duration) {
    const HostTime until = session.now() + duration;
    while (session.now() < until) REQUIRE(session.pump(until));
  }
  // Answers `bad` requests of a kind in another way than by a plain yes.
  void meet(wire::MessageType type, const std::function<void(const wire::Frame&, int)>& other) {
    peer.on_request = [this, type, other, n = 0](const wire::Frame& frame) mutable {
      if (frame.type == static_cast<uint8_t>(type)) {
        other(frame, n++);
      } else {
        peer.answer(frame);
      }
    };
  }

  ScriptedPeer peer;
  MemoryLink link{peer};
  Session session{link};
};

// --- Opening ------------------------------------------------------------------------------------

TEST_CASE("session: opens with hello and knows the rig by name", "[host][session]") {
  Conversation talk;
  talk.open();
  CHECK(talk.session.rig_id() == "TEST-2a");
  CHECK(talk.session.rig().maximum_speed_steps_per_s == 5000);
  CHECK(talk.peer.requests.size() == 1);
}

TEST_CASE("session: opening moves nothing: it says hello and nothing else", "[host][session]") {
  Conversation talk;
  talk.open();
  talk.listen(milliseconds(1000));
  for (const wire::Frame& frame : talk.peer.requests) {
    const bool harmless = frame.type == static_cast<uint8_t>(wire::MessageType::hello) ||
                          frame.type == static_cast<uint8_t>(wire::MessageType::heartbeat);
    CHECK(harmless);
  }
}

TEST_CASE("session: says hello again until a rig that starts slowly answers", "[host][session]") {
  Conversation talk;
  talk.meet(wire::MessageType::hello, [&](const wire::Frame& frame, int n) {
    if (n == 5) talk.peer.answer(frame);
  });
  talk.open();
  CHECK(talk.peer.count(wire::MessageType::hello) == 6);
}

TEST_CASE("session: a device that says nothing is not a rig", "[host][session]") {
  Conversation talk;
  talk.peer.on_request = [](const wire::Frame&) {};
  const auto opened = talk.session.open();
  REQUIRE_FALSE(opened);
  CHECK(opened.error().code == Errc::not_a_rig);
  CHECK_THAT(opened.error().message, Contains("said nothing"));
}

TEST_CASE("session: a device that says something else is not a rig", "[host][session]") {
  Conversation talk;
  talk.peer.on_request = [&](const wire::Frame&) { talk.peer.say_bytes({'O', 'K', '\r', '\n'}); };
  const auto opened = talk.session.open();
  REQUIRE_FALSE(opened);
  CHECK(opened.error().code == Errc::not_a_rig);
  CHECK_THAT(opened.error().message, Contains("not of this protocol"));
}

TEST_CASE("session: another protocol version is named, whatever else the reply holds",
          "[host][session]") {
  Conversation talk;
  talk.peer.on_request = [&](const wire::Frame& frame) {
    uint8_t body[wire::kBodyMax] = {};
    wire::FieldWriter fields(body);
    fields.code(wire::MessageType::hello_reply);
    fields.u16(frame.sequence);
    fields.u16(7);
    fields.u8(99);  // of a layout that nobody here knows
    const wire::EncodedFrame reply = wire::seal(body, fields.size());
    talk.peer.say_bytes({reply.bytes, reply.bytes + reply.size});
  };
  const auto opened = talk.session.open();
  REQUIRE_FALSE(opened);
  CHECK(opened.error().code == Errc::version_mismatch);
  CHECK_THAT(opened.error().message, Contains("version 7") && Contains("version 1"));
}

// --- Requests -----------------------------------------------------------------------------------

TEST_CASE("session: a lost reply is asked for again with the same number", "[host][session]") {
  Conversation talk;
  std::vector<uint16_t> sequences;
  talk.meet(wire::MessageType::start_sampling, [&](const wire::Frame& frame, int n) {
    sequences.push_back(frame.sequence);
    if (n == 2) talk.peer.answer(frame);
  });
  talk.open();
  const auto done = talk.session.request(wire::StartSampling{});
  REQUIRE(done);
  REQUIRE(sequences.size() == 3);
  CHECK(sequences[1] == sequences[0]);
  CHECK(sequences[2] == sequences[0]);
  CHECK(*done == sequences[0]);
}

TEST_CASE("session: a request that is never answered ends by its deadlines", "[host][session]") {
  Conversation talk;
  talk.meet(wire::MessageType::stop_sampling, [](const wire::Frame&, int) {});
  talk.open();
  const HostTime before = talk.session.now();
  const auto done = talk.session.request(wire::StopSampling{});
  REQUIRE_FALSE(done);
  CHECK(done.error().code == Errc::link_timeout);
  CHECK_THAT(done.error().message, Contains("\"stop sampling\""));
  CHECK(talk.peer.count(wire::MessageType::stop_sampling) == kRequestTriesMax);
  CHECK(talk.session.now() - before == kRequestTriesMax * Deadlines().reply);
}

TEST_CASE("session: a late reply answers its own request only, and is counted", "[host][session]") {
  Conversation talk;
  // Comes after the request was repeated: the second copy of the answer is late.
  talk.meet(wire::MessageType::start_sampling,
            [&](const wire::Frame& frame, int) { talk.peer.answer(frame, milliseconds(600)); });
  talk.open();
  REQUIRE(talk.session.request(wire::StartSampling{}));
  CHECK(talk.session.counters().late_replies == 0);
  talk.peer.on_request = [&](const wire::Frame& frame) {
    talk.peer.answer(frame, milliseconds(700), wire::Refusal::busy);
  };
  const auto done = talk.session.request(wire::StopSampling{});
  REQUIRE_FALSE(done);
  CHECK(done.error().code == Errc::rig_refused);
  CHECK(talk.session.counters().late_replies == 1);
}

TEST_CASE("session: an answer with another number or to another request does not count",
          "[host][session]") {
  Conversation talk;
  talk.meet(wire::MessageType::start_sampling, [&](const wire::Frame& frame, int) {
    talk.peer.say(wire::Ack{frame.type, wire::Refusal::none},
                  static_cast<uint16_t>(frame.sequence + 1));
    talk.peer.say(wire::Ack{static_cast<uint8_t>(wire::MessageType::move), wire::Refusal::none},
                  frame.sequence);
    talk.peer.answer(frame, milliseconds(10), wire::Refusal::busy);
  });
  talk.open();
  const auto done = talk.session.request(wire::StartSampling{});
  REQUIRE_FALSE(done);
  CHECK_THAT(done.error().message, Contains("it is moving"));
  CHECK(talk.session.counters().late_replies == 2);
}

TEST_CASE("session: what comes unasked between request and reply is kept", "[host][session]") {
  Conversation talk;
  talk.meet(wire::MessageType::start_sampling, [&](const wire::Frame& frame, int) {
    talk.peer.say(talk.peer.sample(10));
    talk.peer.say(talk.peer.sample(11));
    wire::Event event;
    event.kind = wire::EventKind::fault;
    event.faults = wire::kFaultEmergencyStop;
    talk.peer.say(event);
    talk.peer.answer(frame);
  });
  talk.open();
  REQUIRE(talk.session.request(wire::StartSampling{}));
  REQUIRE(talk.session.take_sample());
  CHECK(talk.session.take_sample()->number == 11);
  REQUIRE(talk.session.trouble());
  CHECK(talk.session.trouble()->code == Errc::stopped_by_rig);
  CHECK_THAT(talk.session.trouble()->message, Contains("emergency stop"));
}

TEST_CASE("session: garbage on the line is thrown away and counted", "[host][session]") {
  Conversation talk;
  talk.meet(wire::MessageType::start_sampling, [&](const wire::Frame& frame, int) {
    talk.peer.say_bytes({0x05, 0x01, 0xFF, 0x37, 0x00, 0x02, 0x11, 0x00});
    talk.peer.answer(frame);
  });
  talk.open();
  REQUIRE(talk.session.request(wire::StartSampling{}));
  CHECK(talk.session.counters().bad_frames == 2);
  CHECK(talk.session.counters().resync_bytes > 0);
  CHECK(talk.session.counters().frames >= 2);
}

TEST_CASE("session: each refusal is put in words", "[host][session]") {
  Conversation talk;
  talk.open();
  for (uint8_t code = 1; code <= 13; ++code) {
    const auto refusal = static_cast<wire::Refusal>(code);
    talk.peer.on_request = [&](const wire::Frame& frame) { talk.peer.answer(frame, {}, refusal); };
    const auto done = talk.session.request(wire::StartSampling{});
    REQUIRE_FALSE(done);
    CAPTURE(done.error().message);
    CHECK(done.error().code ==
          (refusal == wire::Refusal::not_homed ? Errc::not_homed : Errc::rig_refused));
    CHECK(done.error().message.find("which this program does not know") == std::string::npos);
  }
}

// --- Reports ------------------------------------------------------------------------------------

TEST_CASE("session: heartbeats go out though nothing else does", "[host][session]") {
  Conversation talk;
  talk.open();
  talk.listen(milliseconds(1000));
  CHECK(talk.peer.count(wire::MessageType::heartbeat) == 10);
}

TEST_CASE("session: a rig that runs faster than time gets heartbeats by its own clock",
          "[host][session]") {
  Conversation talk;
  talk.open();
  // Two seconds of the rig's time within one millisecond of the host's.
  for (uint32_t i = 1; i <= 160; ++i) talk.peer.say(talk.peer.sample(i), 0, milliseconds(1));
  talk.listen(milliseconds(2));
  CHECK(talk.peer.count(wire::MessageType::heartbeat) >= 5);
}

TEST_CASE("session: a rig that falls silent is noticed by the gap", "[host][session]") {
  Conversation talk;
  talk.open();
  talk.listen(milliseconds(200));
  talk.peer.reports_status = false;
  const HostTime before = talk.session.now();
  protocol::Result<void> done;
  while (done) done = talk.session.pump(talk.session.now() + milliseconds(50));
  CHECK(done.error().code == Errc::link_timeout);
  CHECK_THAT(done.error().message, Contains("silent"));
  CHECK(talk.session.now() - before < Deadlines().gap + milliseconds(200));
}

TEST_CASE("session: lost samples are counted and located", "[host][session]") {
  Conversation talk;
  talk.open();
  for (const uint32_t number : {5u, 6u, 9u, 10u, 15u}) talk.peer.say(talk.peer.sample(number));
  talk.listen(milliseconds(10));
  CHECK(talk.session.counters().lost_samples == 6);
  const auto& gaps = talk.session.samples().gaps();
  REQUIRE(gaps.size() == 2);
  CHECK(gaps[0].first_number == 7);
  CHECK(gaps[0].samples == 2);
  CHECK(gaps[1].first_number == 11);
  CHECK(gaps[1].samples == 4);
  CHECK(gaps[1].after_time_us - gaps[0].after_time_us == 4 * 12500);
}

TEST_CASE("session: samples that nobody takes overflow one bounded queue, and are counted",
          "[host][session]") {
  Conversation talk;
  talk.open();
  const auto more = static_cast<uint32_t>(SampleStream::kQueueMax + 30);
  for (uint32_t i = 0; i < more; ++i) talk.peer.say(talk.peer.sample(i));
  talk.listen(milliseconds(10));
  CHECK(talk.session.samples().overflowed() == 30);
  CHECK(talk.session.counters().lost_samples == 0);
}

TEST_CASE("session: the end of a motion is known by its event", "[host][session]") {
  Conversation talk;
  talk.open();
  const auto sequence = talk.session.request(wire::Move{});
  REQUIRE(sequence);
  CHECK_FALSE(talk.session.motion_end(*sequence));
  wire::Event event;
  event.kind = wire::EventKind::motion_done;
  event.position_steps = 4711;
  talk.peer.say(event, static_cast<uint16_t>(*sequence + 1));
  talk.listen(milliseconds(10));
  CHECK_FALSE(talk.session.motion_end(*sequence));
  talk.peer.say(event, *sequence);
  talk.listen(milliseconds(10));
  REQUIRE(talk.session.motion_end(*sequence));
  CHECK(talk.session.motion_end(*sequence)->position_steps == 4711);
}

TEST_CASE("session: the end of a motion is known by the status when its event was lost",
          "[host][session]") {
  Conversation talk;
  talk.open();
  const auto sequence = talk.session.request(wire::Move{});
  REQUIRE(sequence);
  talk.peer.status.motion_sequence = *sequence;
  talk.peer.status.motion = wire::Motion::moving;
  talk.listen(milliseconds(120));
  CHECK_FALSE(talk.session.motion_end(*sequence));
  talk.peer.status.motion = wire::Motion::idle;
  talk.peer.status.last_event = wire::EventKind::motion_done;
  talk.peer.status.position_steps = 99;
  talk.listen(milliseconds(120));
  REQUIRE(talk.session.motion_end(*sequence));
  CHECK(talk.session.motion_end(*sequence)->kind == wire::EventKind::motion_done);
  CHECK(talk.session.motion_end(*sequence)->position_steps == 99);
}

TEST_CASE("session: a rig that restarts by itself is trouble, and its refusals say why",
          "[host][session]") {
  Conversation talk;
  talk.open();
  wire::Event event;
  event.kind = wire::EventKind::started;
  talk.peer.say(event);
  talk.listen(milliseconds(10));
  REQUIRE(talk.session.trouble());
  CHECK_THAT(talk.session.trouble()->message, Contains("restarted"));
  talk.peer.on_request = [&](const wire::Frame& frame) {
    talk.peer.answer(frame, {}, wire::Refusal::no_session);
  };
  const auto done = talk.session.request(wire::Move{});
  REQUIRE_FALSE(done);
  CHECK(done.error().code == Errc::stopped_by_rig);
}

TEST_CASE("device clock: goes on through the roll-over of its 32 bits", "[host][session]") {
  DeviceClock clock;
  CHECK(clock.unroll(0xFFFFFF00u) == 0);
  CHECK(clock.unroll(0x00000100u) == 0x200);
  CHECK(clock.unroll(0xFFFFFFF0u) == 0xF0);  // out of order, from before the roll-over
  CHECK(clock.now_us() == 0x200);
  CHECK(clock.unroll(0x70000000u) == 0x70000100);
  CHECK(clock.unroll(0xE0000000u) == 0xE0000100);
  CHECK(clock.unroll(0x20000000u) == 0x120000100);
}

}  // namespace
