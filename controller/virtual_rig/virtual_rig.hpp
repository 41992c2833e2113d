// A whole rig in software: the firmware's core over a virtual press, load cell and fork, in virtual
// time, with two queues of bytes in place of the cable. Deterministic for a seed and a series of
// calls; knows no clock and no thread.
//
// The operator is virtual too. To home, the axle is unclamped, so that the carriage can leave the
// fork; when it comes back and first touches the fork, the axle is clamped (unless the rig only
// pushes).
#pragma once

#include <cstdint>
#include <optional>
#include <random>
#include <vector>

#include "controller/firmware/core/rig.hpp"
#include "controller/virtual_rig/cell_faults.hpp"
#include "controller/virtual_rig/faults.hpp"
#include "controller/virtual_rig/host_hal.hpp"
#include "controller/virtual_rig/load_cell.hpp"
#include "controller/virtual_rig/plant.hpp"

namespace controller::virtual_rig {

// What stands in the press.
enum class Fixture {
  fork,
  nothing,
  weight,  // dead weight on the load cell, for calibrating force
  block,   // rigid, reaching up to travel 0, for measuring the frame
};

struct VirtualRigOptions {
  uint64_t seed = 1;
  protocol::Setting setting;  // how the fork is pumped, and whether its axle is clamped
  std::vector<Fault> faults;
  double carriage_start_m = -0.005;  // from the fork's top-out
};

class VirtualRig {
 public:
  VirtualRig(const PlantFile& file, const VirtualRigOptions& options);

  // Not movable: the firmware refers to the pins beside it.
  VirtualRig(const VirtualRig&) = delete;
  VirtualRig& operator=(const VirtualRig&) = delete;

  // One millisecond on: ticks, physics, conversions, the firmware's main loop.
  void advance_ms();
  double time_s() const { return static_cast<double>(time_ms_) * 1e-3; }

  // Lock-step: another millisecond does not trip the heartbeat. False also where no session is
  // open: then time may pass as its owner likes.
  bool in_session() const { return left_ms() != firmware::kNoHeartbeatDue; }
  bool heartbeat_allows_ms() const { return in_session() && left_ms() > 0; }

  // Lock-step, when time must not go on: the firmware reads what still waits on the line, in no
  // time. RETURNS whether anything did; it may have been a heartbeat.
  bool read_waiting();

  // The cable's ends.
  void receive(const uint8_t* bytes, size_t count);
  std::vector<uint8_t> take_output();
  size_t output_size() const { return output_.size(); }
  bool unplugged() const { return unplugged_; }

  // The operator's hands. A fork is pumped extended: the carriage is brought back to where it was.
  void pump(const protocol::Setting& setting);
  void hang_weight(double mass_kg, double gravity_m_s2);
  void set_fixture(Fixture fixture) { fixture_ = fixture; }
  void press_emergency_stop(bool pressed);
  void inject(const Fault& fault);  // at once

  // Where the screw has driven to, and what a dial gauge on the carriage says: less what the drive
  // has lost in its backlash. Both from the fork's top-out.
  double carriage_m() const;
  double dial_m() const { return plant_.carriage_m(); }
  double force_N() const;
  const Plant& plant() const { return plant_; }
  const firmware::Rig<HostHal>& rig() const { return *rig_; }

 private:
  uint16_t left_ms() const { return rig_->heartbeat_left_ms(); }
  void start_firmware();
  void move_press();
  void convert();
  void mind_the_clamp();
  void raise_due_faults();
  void pass_bytes();
  void force_input(uint8_t bit, bool tripped);

  PlantFile file_;
  VirtualRigOptions options_;
  Plant plant_;
  LoadCell cell_;
  CellFaults cell_faults_;
  HostHal hal_;
  std::optional<firmware::Rig<HostHal>> rig_;
  std::mt19937_64 random_;
  std::vector<uint8_t> output_;

  uint64_t time_ms_ = 0;
  double next_conversion_s_ = 0.0;
  Fixture fixture_ = Fixture::fork;
  double weight_N_ = 0.0;
  bool unplugged_ = false;
  size_t bytes_to_lose_ = 0;
};

}  // namespace controller::virtual_rig
