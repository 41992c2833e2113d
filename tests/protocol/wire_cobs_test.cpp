// Byte stuffing against the vectors that others publish, and its promises.
#include <algorithm>
#include <catch2/catch.hpp>
#include <cstdint>
#include <optional>
#include <random>
#include <string>
#include <vector>

#include "protocol/wire/cobs.hpp"

using namespace protocol::wire;
using Bytes = std::vector<uint8_t>;

namespace {

Bytes stuffed(const Bytes& plain) {
  Bytes out(cobs_size_max(static_cast<uint16_t>(plain.size())));
  out.resize(cobs_encode(plain.data(), static_cast<uint16_t>(plain.size()), out.data()));
  return out;
}

// Nothing where the bytes are not a whole stuffing.
std::optional<Bytes> unstuffed(const Bytes& bytes) {
  CobsDecoder decoder;
  Bytes plain;
  for (const uint8_t byte : bytes) {
    if (byte == 0) return std::nullopt;
    uint8_t out = 0;
    if (decoder.feed(byte, out) == CobsDecoder::Step::plain) plain.push_back(out);
  }
  if (!decoder.complete()) return std::nullopt;
  return plain;
}

Bytes text(const std::string& s) {
  return Bytes(s.begin(), s.end());
}

// first..last, both included.
Bytes run(int first, int last) {
  Bytes bytes;
  for (int b = first; b <= last; ++b) bytes.push_back(static_cast<uint8_t>(b));
  return bytes;
}

Bytes operator+(Bytes a, const Bytes& b) {
  a.insert(a.end(), b.begin(), b.end());
  return a;
}

struct Vector {
  Bytes plain;
  Bytes stuffed;
};

void check(const std::vector<Vector>& vectors) {
  for (const Vector& vector : vectors) {
    CAPTURE(vector.plain);
    CHECK(stuffed(vector.plain) == vector.stuffed);
    CHECK(unstuffed(vector.stuffed) == vector.plain);
  }
}

}  // namespace

TEST_CASE("wire: stuffing gives the published short vectors", "[protocol][wire][oracle]") {
  // Source: [COBS-python] src/cobs/cobs/test.py, predefined encodings.
  using namespace std::string_literals;
  check({
      {{}, {0x01}},
      {text("1"), {0x02, 0x31}},
      {text("12345"), Bytes{0x06} + text("12345")},
      {text("12345\0006789"s), Bytes{0x06} + text("12345") + Bytes{0x05} + text("6789")},
      {text("\00012345\0006789"s), Bytes{0x01, 0x06} + text("12345") + Bytes{0x05} + text("6789")},
      {text("12345\0006789\000"s),
       Bytes{0x06} + text("12345") + Bytes{0x05} + text("6789") + Bytes{0x01}},
      {{0x00}, {0x01, 0x01}},
      {{0x00, 0x00}, {0x01, 0x01, 0x01}},
  });
}

TEST_CASE("wire: stuffing gives the published vectors around a full block",
          "[protocol][wire][oracle]") {
  // Source: [COBS-python] src/cobs/cobs/test.py, predefined encodings. A run of 254 bytes that
  // ends the data has no further code byte there.
  check({
      {run(0x01, 0xFD), Bytes{0xFE} + run(0x01, 0xFD)},
      {run(0x01, 0xFE), Bytes{0xFF} + run(0x01, 0xFE)},
      {run(0x01, 0xFF), Bytes{0xFF} + run(0x01, 0xFE) + Bytes{0x02, 0xFF}},
      {run(0x00, 0xFF), Bytes{0x01, 0xFF} + run(0x01, 0xFE) + Bytes{0x02, 0xFF}},
  });
}

TEST_CASE("wire: stuffing gives two further published vectors", "[protocol][wire][oracle]") {
  // Source: [COBS-npm] the examples on the package's page.
  check({
      {{0x11, 0x22, 0x00, 0x33}, {0x03, 0x11, 0x22, 0x02, 0x33}},
      {{0x11, 0x00, 0x00, 0x00}, {0x02, 0x11, 0x01, 0x01, 0x01}},
  });
}

TEST_CASE("wire: stuffing gives the example of the paper", "[protocol][wire][oracle]") {
  // Source: [Cheshire-Baker-1997] the packet header used as the example; from memory.
  check({{{0x45, 0x00, 0x00, 0x2C, 0x4C, 0x79, 0x00, 0x00, 0x40, 0x06, 0x4F, 0x37},
          {0x02, 0x45, 0x01, 0x04, 0x2C, 0x4C, 0x79, 0x01, 0x05, 0x40, 0x06, 0x4F, 0x37}}});
}

TEST_CASE("wire: the published malformed stuffings are refused", "[protocol][wire][oracle]") {
  // Source: [COBS-python] src/cobs/cobs/test.py, decode errors.
  CHECK_FALSE(unstuffed({0x00}));
  CHECK_FALSE(unstuffed(Bytes{0x05} + text("123")));
  CHECK_FALSE(unstuffed(Bytes{0x05} + text("1234") + Bytes{0x00}));
  CHECK_FALSE(unstuffed(Bytes{0x05} + text("12") + Bytes{0x00} + text("4")));
}

TEST_CASE("wire: a full block followed by an empty one decodes alike", "[protocol][wire]") {
  // Some encoders end a run of 254 with a further 01.
  CHECK(unstuffed(Bytes{0xFF} + run(0x01, 0xFE) + Bytes{0x01}) == run(0x01, 0xFE));
}

TEST_CASE("wire: stuffing never yields a zero, stays within its bound and comes back",
          "[protocol][wire][property]") {
  std::mt19937 random(20261125);
  for (int trial = 0; trial < 2000; ++trial) {
    Bytes plain(random() % 700);
    const unsigned zeros = random() % 4;  // from none at all to one in two
    for (uint8_t& byte : plain) {
      byte = static_cast<uint8_t>(random() % 255 + 1);
      if (zeros != 0 && random() % (8 / zeros) == 0) byte = 0;
    }
    const Bytes out = stuffed(plain);
    CAPTURE(trial, plain.size());
    REQUIRE(out.size() <= plain.size() + 1 + plain.size() / 254);
    REQUIRE(std::find(out.begin(), out.end(), 0) == out.end());
    REQUIRE(unstuffed(out) == plain);
  }
}

TEST_CASE("wire: all stuffings of up to four bytes over a small alphabet come back",
          "[protocol][wire][property]") {
  const Bytes alphabet = {0x00, 0x01, 0x02, 0xFF};
  for (size_t length = 0; length <= 4; ++length) {
    size_t combinations = 1;
    for (size_t i = 0; i < length; ++i) combinations *= alphabet.size();
    for (size_t code = 0; code < combinations; ++code) {
      Bytes plain;
      for (size_t rest = code, i = 0; i < length; ++i, rest /= alphabet.size()) {
        plain.push_back(alphabet[rest % alphabet.size()]);
      }
      REQUIRE(unstuffed(stuffed(plain)) == plain);
    }
  }
}
