// Every worked byte of WIRE.md is what the code sends and understands.
#include <catch2/catch.hpp>
#include <fstream>
#include <map>
#include <set>
#include <sstream>
#include <string>

#include "protocol/wire/decoder.hpp"
#include "protocol/wire/replies.hpp"
#include "protocol/wire/requests.hpp"
#include "tests/support/wire_page.hpp"

using namespace protocol::wire;
using test_support::WorkedFrame;

namespace {

std::vector<int64_t> flat_values(const WorkedFrame& frame) {
  std::vector<int64_t> values;
  for (const auto& field : frame.fields) {
    values.insert(values.end(), field.second.begin(), field.second.end());
  }
  return values;
}

// Walks a message's fields and fills them from a list of numbers.
class FieldFiller {
 public:
  explicit FieldFiller(std::vector<int64_t> values) : values_(std::move(values)) {}

  void u8(uint8_t& value) { value = next<uint8_t>(); }
  void u16(uint16_t& value) { value = next<uint16_t>(); }
  void u32(uint32_t& value) { value = next<uint32_t>(); }
  void i8(int8_t& value) { value = next<int8_t>(); }
  void i32(int32_t& value) { value = next<int32_t>(); }
  template <class Enum>
  void code(Enum& value) {
    value = static_cast<Enum>(next<uint8_t>());
  }
  bool used_up() const { return at_ == values_.size(); }

 private:
  template <class T>
  T next() {
    const int64_t value = values_.at(at_++);
    REQUIRE(value == static_cast<int64_t>(static_cast<T>(value)));
    return static_cast<T>(value);
  }

  std::vector<int64_t> values_;
  size_t at_ = 0;
};

// Walks a message's fields and lists them as numbers.
class FieldLister {
 public:
  void u8(uint8_t value) { values.push_back(value); }
  void u16(uint16_t value) { values.push_back(value); }
  void u32(uint32_t value) { values.push_back(value); }
  void i8(int8_t value) { values.push_back(value); }
  void i32(int32_t value) { values.push_back(value); }
  template <class Enum>
  void code(Enum value) {
    values.push_back(static_cast<uint8_t>(value));
  }

  std::vector<int64_t> values;
};

template <class Message>
void check_worked(const WorkedFrame& worked) {
  Message message;
  FieldFiller filler(flat_values(worked));
  Message::visit(message, filler);
  CHECK(filler.used_up());
  const EncodedFrame encoded = encode(message, worked.sequence);
  CHECK(std::vector<uint8_t>(encoded.bytes, encoded.bytes + encoded.size) == worked.bytes);

  Decoder decoder;
  Verdict verdict = Verdict::need_more;
  for (size_t i = 0; i < worked.bytes.size(); ++i) {
    CHECK(verdict == Verdict::need_more);
    verdict = decoder.feed(worked.bytes[i]);
  }
  REQUIRE(verdict == Verdict::frame);
  CHECK(decoder.frame().sequence == worked.sequence);
  Message received;
  REQUIRE(decode(decoder.frame(), received));
  FieldLister lister;
  Message::visit(static_cast<const Message&>(received), lister);
  CHECK(lister.values == flat_values(worked));
}

const std::map<std::string, void (*)(const WorkedFrame&)>& checks() {
  static const std::map<std::string, void (*)(const WorkedFrame&)> by_name = {
      {"hello", check_worked<Hello>},
      {"heartbeat", check_worked<Heartbeat>},
      {"stop", check_worked<Stop>},
      {"halt", check_worked<Halt>},
      {"clear_faults", check_worked<ClearFaults>},
      {"home", check_worked<Home>},
      {"touch", check_worked<Touch>},
      {"move", check_worked<Move>},
      {"jog", check_worked<Jog>},
      {"set_limits", check_worked<SetLimits>},
      {"start_sampling", check_worked<StartSampling>},
      {"stop_sampling", check_worked<StopSampling>},
      {"hello_reply", check_worked<HelloReply>},
      {"ack", check_worked<Ack>},
      {"sample", check_worked<Sample>},
      {"event", check_worked<Event>},
      {"status", check_worked<Status>},
  };
  return by_name;
}

std::string text_of(const std::string& path) {
  std::ifstream file(SPRINGWRIGHT_SOURCE_DIR "/" + path);
  REQUIRE(file);
  std::ostringstream text;
  text << file.rdbuf();
  return text.str();
}

}  // namespace

TEST_CASE("wire page: each worked frame is what the code sends and reads back",
          "[protocol][wire][page]") {
  for (const WorkedFrame& worked : test_support::read_wire_page()) {
    CAPTURE(worked.message, worked.sequence);
    REQUIRE(checks().count(worked.message) == 1);
    checks().at(worked.message)(worked);
  }
}

TEST_CASE("wire page: every message has worked bytes", "[protocol][wire][page]") {
  std::set<std::string> shown;
  for (const WorkedFrame& worked : test_support::read_wire_page()) shown.insert(worked.message);
  for (const auto& check : checks()) {
    CAPTURE(check.first);
    CHECK(shown.count(check.first) == 1);
  }
}

TEST_CASE("wire page: its field names are those of the headers", "[protocol][wire][page]") {
  const std::string headers =
      text_of("protocol/wire/requests.hpp") + text_of("protocol/wire/replies.hpp");
  for (const WorkedFrame& worked : test_support::read_wire_page()) {
    for (const auto& field : worked.fields) {
      CAPTURE(worked.message, field.first);
      CHECK(headers.find(" " + field.first) != std::string::npos);
    }
  }
}

TEST_CASE("wire page: its tables number the messages as the code does", "[protocol][wire][page]") {
  const std::string page = text_of("protocol/wire/WIRE.md");
  const auto has_row = [&page](MessageType type, const std::string& name) {
    std::ostringstream row;
    row << "| " << std::uppercase << std::hex;
    row.width(2);
    row.fill('0');
    row << static_cast<int>(type) << " | " << name << " |";
    return page.find(row.str()) != std::string::npos;
  };
  CHECK(has_row(MessageType::hello, "hello"));
  CHECK(has_row(MessageType::heartbeat, "heartbeat"));
  CHECK(has_row(MessageType::stop, "stop"));
  CHECK(has_row(MessageType::halt, "halt"));
  CHECK(has_row(MessageType::clear_faults, "clear_faults"));
  CHECK(has_row(MessageType::home, "home"));
  CHECK(has_row(MessageType::touch, "touch"));
  CHECK(has_row(MessageType::move, "move"));
  CHECK(has_row(MessageType::jog, "jog"));
  CHECK(has_row(MessageType::set_limits, "set_limits"));
  CHECK(has_row(MessageType::start_sampling, "start_sampling"));
  CHECK(has_row(MessageType::stop_sampling, "stop_sampling"));
  CHECK(has_row(MessageType::hello_reply, "hello_reply"));
  CHECK(has_row(MessageType::ack, "ack"));
  CHECK(has_row(MessageType::sample, "sample"));
  CHECK(has_row(MessageType::event, "event"));
  CHECK(has_row(MessageType::status, "status"));
}

TEST_CASE("wire page: the bounds it states are those of the code", "[protocol][wire][page]") {
  const std::string page = text_of("protocol/wire/WIRE.md");
  const auto says = [&page](const std::string& words) {
    return page.find(words) != std::string::npos;
  };
  CHECK(says("payload  0.." + std::to_string(kPayloadMax) + " bytes"));
  CHECK(says("A frame is at most " + std::to_string(kFrameMax) + " bytes on the line"));
  CHECK(says("steps i32 (relative, -" + std::to_string(kJogStepsMax) + ".." +
             std::to_string(kJogStepsMax) + "), speed u32 (1.." +
             std::to_string(kJogSpeedMaxStepsPerS) + ")"));
  CHECK(says("heartbeat_timeout_ms u16 (" + std::to_string(kHeartbeatTimeoutMinMs) + ".." +
             std::to_string(kHeartbeatTimeoutMaxMs) + ")"));
  CHECK(says(std::to_string(kHeartbeatTimeoutDefaultMs) + " ms before set_limits"));
  CHECK(says(std::to_string(kCountsMin) + ".." + std::to_string(kCountsMax)));
}
