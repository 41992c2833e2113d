// The whole rig with the real binary: the simulated chip's pins on the virtual press, load cell and
// fork. It offers what VirtualRig offers to a client, so that one client drives both.
//
// The virtual operator does as VirtualRig's: the axle is unclamped for homing and clamped at the
// first touch. What the chip is about is read in its status, as an operator would.
#pragma once

#include <cstdint>
#include <deque>
#include <string>
#include <vector>

#include "controller/virtual_rig/converter.hpp"
#include "controller/virtual_rig/host_hal.hpp"
#include "controller/virtual_rig/load_cell.hpp"
#include "controller/virtual_rig/plant.hpp"
#include "controller/virtual_rig/virtual_rig.hpp"
#include "protocol/wire/decoder.hpp"
#include "protocol/wire/replies.hpp"
#include "tests/firmware/simulated_chip.hpp"

namespace tests {

class SimulatedRig {
 public:
  SimulatedRig(const std::string& elf_file, const controller::virtual_rig::PlantFile& file,
               const controller::virtual_rig::VirtualRigOptions& options);

  void advance_ms();
  void advance_cycles(uint64_t cycles);
  void receive(const uint8_t* bytes, size_t count) { chip_.send(bytes, count); }
  std::vector<uint8_t> take_output();
  bool sending() const { return chip_.sending(); }  // bytes are still on their way to the chip

  // At once. REQUIRES: not a fault of the line, which is not the rig's, nor a leak.
  void inject(const controller::virtual_rig::Fault& fault);
  void press_emergency_stop(bool pressed);
  void force_switch(uint8_t input, bool tripped);
  // From now on conversions say this much more.
  void add_counts(int32_t counts) { added_counts_ = counts; }

  SimulatedChip& chip() { return chip_; }
  double carriage_m() const;
  int64_t carriage_steps() const { return mechanics_.steps; }
  bool driver_on() const { return mechanics_.powered; }
  uint64_t last_step_cycle() const { return last_step_cycle_; }
  // Steps behind a cycle; the last hundred are remembered.
  uint64_t steps_after(uint64_t cycle) const;
  uint64_t last_conversion_cycle() const { return last_conversion_cycle_; }

 private:
  void wire_up();
  void drive_inputs();
  void convert();
  void mind_the_clamp(const protocol::wire::Status& status);
  void drive_pins();

  controller::virtual_rig::PlantFile file_;
  controller::virtual_rig::VirtualRigOptions options_;
  SimulatedChip chip_;
  controller::virtual_rig::Plant plant_;
  controller::virtual_rig::LoadCell cell_;
  controller::virtual_rig::CellFaults cell_faults_;
  controller::virtual_rig::Converter converter_;
  controller::virtual_rig::PressMechanics mechanics_;
  protocol::wire::Decoder listener_;
  int inputs_driven_ = -1;
  int32_t added_counts_ = 0;
  uint64_t next_conversion_cycle_ = 0;
  uint64_t next_ms_cycle_ = 0;
  uint64_t last_step_cycle_ = 0;
  std::deque<uint64_t> step_cycles_;
  uint64_t last_conversion_cycle_ = 0;
};

}  // namespace tests
