#include "tests/firmware/simulated_rig.hpp"

#include <algorithm>
#include <cmath>
#include <stdexcept>

namespace tests {
namespace {

using controller::virtual_rig::Fault;
using controller::virtual_rig::FaultKind;
using controller::virtual_rig::PlantFile;
using controller::virtual_rig::VirtualRigOptions;

// As controller/firmware/avr/pins.hpp has them.
constexpr char kInputPort = 'C';
constexpr int kInputs = 3;
constexpr int kConverterDataBit = 3;
constexpr char kConverterClockPort = 'B';
constexpr int kConverterClockBit = 0;
constexpr char kDriverPort = 'D';
constexpr int kStepBit = 5;
constexpr int kDirectionBit = 6;
constexpr int kNotEnableBit = 7;
constexpr size_t kStepsKept = 100;
constexpr double kClampingForce_N = 2.0;
// The converter has an oscillator of its own, so that its conversions meet the chip at any phase.
constexpr double kConverterPace = 0.9987;

}  // namespace

SimulatedRig::SimulatedRig(const std::string& elf_file, const PlantFile& file,
                           const VirtualRigOptions& options)
    : file_(file),
      options_(options),
      chip_(elf_file),
      plant_(file),
      cell_(file.bench.load_cell, options.seed),
      cell_faults_(options.seed ^ 0x2545F491u) {
  const double steps_per_m = file.bench.steps_per_mm * 1e3;
  mechanics_.low_switch_steps = std::llround(file.bench.top_switch_m * steps_per_m);
  mechanics_.high_switch_steps = std::llround(file.bench.bottom_switch_m * steps_per_m);
  mechanics_.steps = std::llround(options.carriage_start_m * steps_per_m);
  plant_.pump(options.setting);
  plant_.unclamp();
  plant_.place_carriage(carriage_m());
  wire_up();
  next_ms_cycle_ = kCyclesPerMs;
  next_conversion_cycle_ = kCyclesPerMs;
}

double SimulatedRig::carriage_m() const {
  return static_cast<double>(mechanics_.steps) / (file_.bench.steps_per_mm * 1e3);
}

void SimulatedRig::wire_up() {
  chip_.watch(kDriverPort, kStepBit, [this](bool high) {
    if (!high) return;
    last_step_cycle_ = chip_.cycle();
    step_cycles_.push_back(last_step_cycle_);
    if (step_cycles_.size() > kStepsKept) step_cycles_.pop_front();
    mechanics_.step();
    drive_inputs();
  });
  chip_.watch(kDriverPort, kDirectionBit, [this](bool high) { mechanics_.compression = high; });
  chip_.watch(kDriverPort, kNotEnableBit, [this](bool high) { mechanics_.powered = !high; });
  chip_.watch(kConverterClockPort, kConverterClockBit, [this](bool high) {
    converter_.clock(high);
    chip_.drive(kInputPort, kConverterDataBit, converter_.data());
  });
  chip_.set_on_reset([this] {
    mechanics_.powered = false;  // the pull-up holds the driver off
    drive_pins();
  });
  drive_pins();
}

void SimulatedRig::drive_pins() {
  chip_.drive(kInputPort, kConverterDataBit, converter_.data());
  inputs_driven_ = -1;
  drive_inputs();
}

uint64_t SimulatedRig::steps_after(uint64_t cycle) const {
  return static_cast<uint64_t>(std::count_if(step_cycles_.begin(), step_cycles_.end(),
                                             [cycle](uint64_t each) { return each > cycle; }));
}

void SimulatedRig::drive_inputs() {
  const uint8_t inputs = mechanics_.inputs();
  if (inputs == inputs_driven_) return;
  inputs_driven_ = inputs;
  for (int bit = 0; bit < kInputs; ++bit) chip_.drive(kInputPort, bit, ((inputs >> bit) & 1) != 0);
}

void SimulatedRig::advance_ms() {
  advance_cycles(kCyclesPerMs);
}

void SimulatedRig::advance_cycles(uint64_t cycles) {
  const uint64_t end = chip_.cycle() + cycles;
  for (;;) {
    const uint64_t next = std::min(next_ms_cycle_, next_conversion_cycle_);
    if (next > end) break;
    chip_.run_to(next);
    if (next == next_ms_cycle_) {
      next_ms_cycle_ += kCyclesPerMs;
      plant_.drive_to(carriage_m(), 1e-3);
    }
    if (next == next_conversion_cycle_) convert();
  }
  chip_.run_to(end);
}

void SimulatedRig::convert() {
  const double period_s = cell_.period_s() * kConverterPace;
  next_conversion_cycle_ +=
      static_cast<uint64_t>(std::llround(period_s * static_cast<double>(kCyclesPerSecond)));
  const int32_t counts = cell_.sample(plant_.force_N(), plant_.room_K(), period_s) + added_counts_;
  const std::optional<int32_t> passed = cell_faults_.pass(counts);
  if (!passed) return;
  converter_.offer(*passed);
  last_conversion_cycle_ = chip_.cycle();
  chip_.drive(kInputPort, kConverterDataBit, converter_.data());
}

std::vector<uint8_t> SimulatedRig::take_output() {
  std::vector<uint8_t> out = chip_.take_output();
  for (const uint8_t byte : out) {
    protocol::wire::Status status;
    if (listener_.feed(byte) == protocol::wire::Verdict::frame &&
        decode(listener_.frame(), status)) {
      mind_the_clamp(status);
    }
  }
  return out;
}

void SimulatedRig::mind_the_clamp(const protocol::wire::Status& status) {
  if (status.motion == protocol::wire::Motion::homing) {
    plant_.unclamp();
  } else if (!plant_.clamped() && options_.setting.coupling == protocol::Coupling::clamped &&
             (status.flags & protocol::wire::kFlagPositionKnown) != 0 &&
             plant_.force_N() > kClampingForce_N) {
    plant_.clamp();
  }
}

void SimulatedRig::force_switch(uint8_t input, bool tripped) {
  uint8_t& forced = mechanics_.forced_inputs;
  forced = static_cast<uint8_t>(tripped ? forced | input : forced & ~input);
  drive_inputs();
}

void SimulatedRig::inject(const Fault& fault) {
  if (cell_faults_.strike(fault, file_.bench.load_cell.counts_per_N)) return;
  switch (fault.kind) {
    case FaultKind::lost_steps:
      mechanics_.steps_to_lose += static_cast<int64_t>(fault.amount);
      return;
    case FaultKind::stuck_low_switch:
      return force_switch(controller::firmware::kInputLimitLow, true);
    case FaultKind::stuck_high_switch:
      return force_switch(controller::firmware::kInputLimitHigh, true);
    case FaultKind::dead_low_switch:
      mechanics_.kill_inputs(controller::firmware::kInputLimitLow);
      return drive_inputs();
    case FaultKind::dead_high_switch:
      mechanics_.kill_inputs(controller::firmware::kInputLimitHigh);
      return drive_inputs();
    case FaultKind::emergency_stop:
      return press_emergency_stop(true);
    case FaultKind::brown_out:
      return chip_.reset();
    default:
      break;
  }
  throw std::logic_error("this fault is not the simulated rig's");
}

void SimulatedRig::press_emergency_stop(bool pressed) {
  force_switch(controller::firmware::kInputEmergencyStop, pressed);
}

}  // namespace tests
