// The frame check against the catalogue of CRCs, and what it promises about damage.
#include <catch2/catch.hpp>
#include <cstdint>
#include <string>
#include <vector>

#include "protocol/wire/crc16.hpp"

using protocol::wire::crc16;
using protocol::wire::crc16_add;
using protocol::wire::kCrcStart;

namespace {

uint16_t crc_of(const std::string& text) {
  return crc16(reinterpret_cast<const uint8_t*>(text.data()), static_cast<uint16_t>(text.size()));
}

std::vector<uint8_t> some_body() {
  return {0x08, 0x07, 0x00, 0x10, 0x72, 0x00, 0x00, 0x20, 0x03, 0x00, 0x00, 0xA0, 0x0F, 0x00, 0x00};
}

uint16_t crc_of(const std::vector<uint8_t>& bytes) {
  return crc16(bytes.data(), static_cast<uint16_t>(bytes.size()));
}

}  // namespace

TEST_CASE("wire: the checksum has the catalogue's check value", "[protocol][wire][oracle]") {
  // Source: [RevEng-CRC] CRC-16/IBM-3740, check("123456789") = 29b1.
  CHECK(crc_of(std::string("123456789")) == 0x29B1);
}

TEST_CASE("wire: the checksum has its other well-known values", "[protocol][wire][oracle]") {
  // Source: [RevEng-CRC] CRC-16/IBM-3740: empty ffff (its start, no final xor); "A" b915 and
  // 256 x "A" ea0b from memory.
  CHECK(crc_of(std::string()) == 0xFFFF);
  CHECK(crc_of(std::string("A")) == 0xB915);
  CHECK(crc_of(std::string(256, 'A')) == 0xEA0B);
}

TEST_CASE("wire: a message followed by its checksum, high byte first, leaves zero",
          "[protocol][wire]") {
  const auto body = some_body();
  const uint16_t crc = crc_of(body);
  uint16_t left = crc16_add(crc, static_cast<uint8_t>(crc >> 8));
  left = crc16_add(left, static_cast<uint8_t>(crc & 0xFF));
  CHECK(left == 0);
}

TEST_CASE("wire: the checksum a nibble at a time equals the bitwise definition",
          "[protocol][wire]") {
  for (unsigned start = 0; start < 0x10000; start += 257) {
    for (unsigned byte = 0; byte < 256; ++byte) {
      unsigned crc = start ^ (byte << 8);
      for (int bit = 0; bit < 8; ++bit) {
        crc = (crc & 0x8000u) ? ((crc << 1) ^ 0x1021u) & 0xFFFFu : (crc << 1) & 0xFFFFu;
      }
      REQUIRE(crc16_add(static_cast<uint16_t>(start), static_cast<uint8_t>(byte)) == crc);
    }
  }
}

TEST_CASE("wire: the checksum sees every wrong byte and every burst of up to 16 bits",
          "[protocol][wire][property]") {
  const auto body = some_body();
  const uint16_t right = crc_of(body);
  const size_t bits = body.size() * 8;
  for (size_t first = 0; first < bits; ++first) {
    // A burst begins with a wrong bit; its other 15 may be anything: sampled by a fixed stride.
    for (unsigned tail = 0; tail < 0x8000; tail += 37) {
      const unsigned burst = 0x8000u | tail;
      auto damaged = body;
      for (size_t i = 0; i < 16 && first + i < bits; ++i) {
        if (burst >> (15 - i) & 1u) {
          damaged[(first + i) / 8] ^= static_cast<uint8_t>(0x80u >> ((first + i) % 8));
        }
      }
      if (crc_of(damaged) == right) FAIL("burst " << burst << " at bit " << first << " not seen");
    }
  }
  SUCCEED("all seen");
}

TEST_CASE("wire: the checksum starts at all ones, so leading zeros count", "[protocol][wire]") {
  CHECK(kCrcStart == 0xFFFF);
  CHECK(crc_of(std::vector<uint8_t>{0}) != crc_of(std::vector<uint8_t>{0, 0}));
}
