// Clocking the load-cell converter: the bits, their sign, and the length of each clock pulse.
#include <catch2/catch.hpp>
#include <cstdint>

#include "tests/support/bench.hpp"

using controller::firmware::LoadCellHealth;
using controller::firmware::read_load_cell;
using test_support::Bench;
using test_support::BenchHal;

namespace {

// Runs the world until a conversion of `counts` is ready.
BenchHal<10> ready_with(int32_t counts) {
  BenchHal<10> hal;
  hal.load_noise = false;
  hal.load_counts = [counts](int32_t) { return counts; };
  while (hal.adc_dout()) hal.advance();
  return hal;
}

}  // namespace

TEST_CASE("load cell: 24 bits of two's complement, most significant first", "[core][oracle]") {
  // Source: [HX711] 24-bit two's complement, MSB first; saturates at 7FFFFF and 800000.
  const int32_t counts = GENERATE(0, 1, -1, 2, -2, 0x123456, -0x123456, 0x555555, -0x555555,
                                  0x7FFFFF, -0x800000, 0x400000, -0x400001, 8388606, -8388607);
  BenchHal<10> hal = ready_with(counts);
  CAPTURE(counts);
  CHECK(read_load_cell(hal) == counts);
}

TEST_CASE("load cell: a reading takes 25 pulses and leaves the data line high", "[core][oracle]") {
  // Source: [HX711] 25 pulses select channel A with gain 128 for the next conversion.
  BenchHal<10> hal = ready_with(4711);
  read_load_cell(hal);
  CHECK(hal.clock_pulses == 25);
  CHECK(hal.adc_dout());
}

TEST_CASE("load cell: each clock-high phase is atomic, and only that", "[core][oracle]") {
  // Source: [HX711] a clock held high for more than 60 us powers the converter down.
  BenchHal<10> hal = ready_with(-4711);
  read_load_cell(hal);
  CHECK(hal.clock_high_with_irq_on == 0);
  CHECK(hal.most_pulses_in_a_lock == 1);  // interrupts get their turn between bits
  CHECK_FALSE(hal.irq_is_off);
}

TEST_CASE("load cell: interrupts between the bits do not disturb the reading", "[core]") {
  BenchHal<10> hal = ready_with(-1234567);
  int interrupts = 0;
  hal.on_interrupts_on = [&] { ++interrupts; };
  CHECK(read_load_cell(hal) == -1234567);
  CHECK(interrupts == 25);
}

TEST_CASE("load cell: the rig reads every conversion, and none twice", "[core]") {
  Bench bench;
  bench.run_ms(1050);
  CHECK(bench.hal.clock_pulses == 25 * 81);  // the first at 50 ms, then every 12.5 ms
  CHECK(bench.hal.clock_high_with_irq_on == 0);
}

TEST_CASE("load cell health: the ends of the range are saturation, all else is a reading",
          "[core][fault]") {
  LoadCellHealth health(100, 40);
  CHECK_FALSE(health.has_reading());
  CHECK(health.sample(0x7FFFFE) == 0);
  CHECK(health.sample(0x7FFFFF) == protocol::wire::kFaultLoadCellSaturated);
  CHECK(health.sample(-0x7FFFFF) == 0);
  CHECK(health.sample(-0x800000) == protocol::wire::kFaultLoadCellSaturated);
  CHECK(health.has_reading());
  CHECK(health.raw_counts() == -0x800000);
}

TEST_CASE("load cell health: silence is counted from the last reading", "[core][fault]") {
  LoadCellHealth health(100, 40);
  health.sample(5);
  for (int ms = 0; ms < 100; ++ms) REQUIRE(health.millisecond() == 0);
  CHECK(health.millisecond() == protocol::wire::kFaultLoadCellMissing);
  health.sample(6);
  for (int ms = 0; ms < 100; ++ms) REQUIRE(health.millisecond() == 0);
  CHECK(health.millisecond() == protocol::wire::kFaultLoadCellMissing);
  health.forgive();
  CHECK(health.millisecond() == 0);
}

TEST_CASE("load cell health: the first reading may take a second", "[core]") {
  LoadCellHealth health(100, 40);
  for (int ms = 0; ms < 1000; ++ms) REQUIRE(health.millisecond() == 0);
  CHECK(health.millisecond() == protocol::wire::kFaultLoadCellMissing);
}
