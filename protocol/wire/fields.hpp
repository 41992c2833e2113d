// Integers to little-endian bytes and back, the same on an 8-bit chip and on a 64-bit host.
//
// Structs pad differently there, so none is ever copied as a whole. A message names its fields
// once, in a static `visit(self, fields)`; FieldWriter and FieldReader walk it.
#pragma once

#include <stdint.h>

namespace protocol {
namespace wire {

class FieldWriter {
 public:
  explicit FieldWriter(uint8_t* out) : out_(out) {}

  void u8(uint8_t value) { out_[size_++] = value; }
  void u16(uint16_t value) {
    u8(static_cast<uint8_t>(value & 0xFFu));
    u8(static_cast<uint8_t>(value >> 8));
  }
  void u32(uint32_t value) {
    u16(static_cast<uint16_t>(value & 0xFFFFu));
    u16(static_cast<uint16_t>(value >> 16));
  }
  void i8(int8_t value) { u8(static_cast<uint8_t>(value)); }
  void i32(int32_t value) { u32(static_cast<uint32_t>(value)); }
  template <class Enum>
  void code(Enum value) {
    u8(static_cast<uint8_t>(value));
  }

  uint8_t size() const { return size_; }

 private:
  uint8_t* out_;
  uint8_t size_ = 0;
};

// Reads what FieldWriter wrote. Past the end it yields zeros and remembers it: see whole().
class FieldReader {
 public:
  FieldReader(const uint8_t* bytes, uint8_t size) : bytes_(bytes), left_(size) {}

  void u8(uint8_t& value) {
    if (left_ == 0) {
      short_ = true;
      value = 0;
      return;
    }
    value = *bytes_++;
    --left_;
  }
  void u16(uint16_t& value) {
    uint8_t low = 0;
    uint8_t high = 0;
    u8(low);
    u8(high);
    value = static_cast<uint16_t>(low | static_cast<uint16_t>(high << 8));
  }
  void u32(uint32_t& value) {
    uint16_t low = 0;
    uint16_t high = 0;
    u16(low);
    u16(high);
    value = low | (static_cast<uint32_t>(high) << 16);
  }
  void i8(int8_t& value) {
    uint8_t bits = 0;
    u8(bits);
    value = static_cast<int8_t>(bits < 0x80u ? bits : bits - 0x100);
  }
  void i32(int32_t& value) {
    uint32_t bits = 0;
    u32(bits);
    // Two's complement said in arithmetic: before C++20 a plain cast is the compiler's choice.
    value = bits < 0x80000000u ? static_cast<int32_t>(bits)
                               : -static_cast<int32_t>(0xFFFFFFFFu - bits) - 1;
  }
  template <class Enum>
  void code(Enum& value) {
    uint8_t bits = 0;
    u8(bits);
    value = static_cast<Enum>(bits);
  }

  // True when exactly the bytes given were used.
  bool whole() const { return !short_ && left_ == 0; }

 private:
  const uint8_t* bytes_;
  uint8_t left_;
  bool short_ = false;
};

}  // namespace wire
}  // namespace protocol
