// CRC-16/IBM-3740 (polynomial 1021, start FFFF, not reflected, no final xor).
//
// It guards each frame. Freestanding. On the chip a nibble at a time: 32 bytes of table, since it
// has little room and a bit at a time would cost a quarter of its byte budget at 500 kbaud. On a
// computer four bytes at a time: 2 KB of tables.
#pragma once

#include <stdint.h>

namespace protocol {
namespace wire {

constexpr uint16_t kCrcStart = 0xFFFF;

namespace detail {

struct CrcTable {
  uint16_t of_nibble[16];
};

constexpr CrcTable make_crc_table() {
  CrcTable table{};
  for (uint8_t nibble = 0; nibble < 16; ++nibble) {
    uint16_t crc = static_cast<uint16_t>(nibble << 12);
    for (uint8_t bit = 0; bit < 4; ++bit) {
      const bool carry = (crc & 0x8000u) != 0;
      crc = static_cast<uint16_t>(static_cast<uint16_t>(crc << 1) ^ (carry ? 0x1021u : 0u));
    }
    table.of_nibble[nibble] = crc;
  }
  return table;
}

// A template, so that the header alone can own the one table without C++17's inline variables.
template <class Unused>
struct CrcTableHolder {
  static constexpr CrcTable table = make_crc_table();
};
template <class Unused>
constexpr CrcTable CrcTableHolder<Unused>::table;

}  // namespace detail

// The register after one more byte; begin with kCrcStart.
constexpr uint16_t crc16_add(uint16_t crc, uint8_t byte) {
  const uint16_t* of_nibble = detail::CrcTableHolder<void>::table.of_nibble;
  const uint8_t high = static_cast<uint8_t>((crc >> 12) ^ (byte >> 4));
  crc = static_cast<uint16_t>(static_cast<uint16_t>(crc << 4) ^ of_nibble[high & 15u]);
  const uint8_t low = static_cast<uint8_t>((crc >> 12) ^ byte);
  return static_cast<uint16_t>(static_cast<uint16_t>(crc << 4) ^ of_nibble[low & 15u]);
}

#ifndef __AVR__
namespace detail {

// Of byte b with n more bytes to follow: what is left of it in the register after all of them.
struct CrcTables {
  uint16_t followed_by[4][256];
};

constexpr CrcTables make_crc_tables() {
  CrcTables tables{};
  for (unsigned byte = 0; byte < 256; ++byte) {
    uint16_t crc = crc16_add(0, static_cast<uint8_t>(byte));
    for (auto& table : tables.followed_by) {
      table[byte] = crc;
      crc = crc16_add(crc, 0);
    }
  }
  return tables;
}

template <class Unused>
struct CrcTablesHolder {
  static constexpr CrcTables tables = make_crc_tables();
};
template <class Unused>
constexpr CrcTables CrcTablesHolder<Unused>::tables;

}  // namespace detail
#endif

inline uint16_t crc16(const uint8_t* bytes, uint16_t size) {
  uint16_t crc = kCrcStart;
#ifndef __AVR__
  const auto& followed_by = detail::CrcTablesHolder<void>::tables.followed_by;
  for (; size >= 4; size = static_cast<uint16_t>(size - 4), bytes += 4) {
    crc = static_cast<uint16_t>(followed_by[3][bytes[0] ^ (crc >> 8)] ^
                                followed_by[2][bytes[1] ^ (crc & 0xFFu)] ^
                                followed_by[1][bytes[2]] ^ followed_by[0][bytes[3]]);
  }
#endif
  for (uint16_t i = 0; i < size; ++i) crc = crc16_add(crc, bytes[i]);
  return crc;
}

}  // namespace wire
}  // namespace protocol
