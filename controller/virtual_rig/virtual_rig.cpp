#include "controller/virtual_rig/virtual_rig.hpp"

#include <algorithm>
#include <cmath>

namespace controller::virtual_rig {
namespace {

constexpr double kMillisecond_s = 1e-3;
// The operator clamps when the carriage is felt to touch.
constexpr double kClampingForce_N = 2.0;
constexpr uint8_t kRigId[protocol::wire::kRigIdSize] = {'V', 'I', 'R', 'T', 'U', 'A', 'L', 1};

firmware::RigConfig rig_config(const PlantBench& bench) {
  firmware::RigConfig config;
  std::copy(std::begin(kRigId), std::end(kRigId), config.id);
  config.nominal_samples_per_s = static_cast<uint16_t>(std::lround(bench.load_cell.samples_per_s));
  return config;
}

}  // namespace

VirtualRig::VirtualRig(const PlantFile& file, const VirtualRigOptions& options)
    : file_(file),
      options_(options),
      plant_(file),
      cell_(file.bench.load_cell, options.seed),
      cell_faults_(options.seed ^ 0x2545F491u),
      random_(options.seed ^ 0x5DEECE66Du) {
  const double steps_per_m = file.bench.steps_per_mm * 1e3;
  hal_.mechanics.low_switch_steps = std::llround(file.bench.top_switch_m * steps_per_m);
  hal_.mechanics.high_switch_steps = std::llround(file.bench.bottom_switch_m * steps_per_m);
  hal_.mechanics.steps = std::llround(options.carriage_start_m * steps_per_m);
  plant_.pump(options.setting);
  plant_.unclamp();
  plant_.place_carriage(carriage_m());
  start_firmware();
}

void VirtualRig::start_firmware() {
  hal_.serial.clear();
  hal_.converter = Converter();
  rig_.emplace(hal_, rig_config(file_.bench));
  rig_->begin();
}

void VirtualRig::advance_ms() {
  raise_due_faults();
  const uint8_t inputs_before = hal_.inputs();
  for (int tick = 0; tick < HostHal::kTicksPerMs; ++tick) rig_->on_tick();
  if (hal_.inputs() != inputs_before) rig_->on_input_edge();
  ++time_ms_;
  move_press();
  convert();
  pass_bytes();
  rig_->poll();
  mind_the_clamp();
}

double VirtualRig::carriage_m() const {
  return static_cast<double>(hal_.mechanics.steps) / (file_.bench.steps_per_mm * 1e3);
}

void VirtualRig::move_press() {
  plant_.set_room_temperature(options_.setting.temperature_K +
                              file_.bench.room_drift_K_per_h * time_s() / 3600.0);
  plant_.drive_to(carriage_m(), kMillisecond_s);
}

double VirtualRig::force_N() const {
  switch (fixture_) {
    case Fixture::fork:
      return plant_.force_N();
    case Fixture::nothing:
      return 0.0;
    case Fixture::weight:
      return weight_N_;
    case Fixture::block:
      return std::max(0.0, carriage_m() * file_.bench.frame_N_m);
  }
  return 0.0;
}

void VirtualRig::convert() {
  if (time_s() < next_conversion_s_) return;
  next_conversion_s_ += cell_.period_s();
  const int32_t counts = cell_.sample(force_N(), plant_.room_K(), cell_.period_s());
  if (const auto passed = cell_faults_.pass(counts)) hal_.converter.offer(*passed);
}

void VirtualRig::mind_the_clamp() {
  if (rig_->motion() == protocol::wire::Motion::homing) {
    plant_.unclamp();
  } else if (!plant_.clamped() && options_.setting.coupling == protocol::Coupling::clamped &&
             (rig_->flags() & protocol::wire::kFlagPositionKnown) != 0 &&
             plant_.force_N() > kClampingForce_N) {
    plant_.clamp();
  }
}

void VirtualRig::pass_bytes() {
  const size_t before = output_.size();
  hal_.serial.pass_ms(output_);
  if (unplugged_) {
    output_.resize(before);
    return;
  }
  const size_t lost = std::min(bytes_to_lose_, output_.size() - before);
  output_.resize(output_.size() - lost);
  bytes_to_lose_ -= lost;
}

bool VirtualRig::read_waiting() {
  if (hal_.serial.waiting() == 0) return false;
  hal_.serial.let_all_arrive();
  while (hal_.serial.waiting() > 0) rig_->poll();
  return true;
}

void VirtualRig::receive(const uint8_t* bytes, size_t count) {
  if (!unplugged_) hal_.serial.arrive(bytes, count);
}

std::vector<uint8_t> VirtualRig::take_output() {
  std::vector<uint8_t> taken;
  taken.swap(output_);
  return taken;
}

void VirtualRig::pump(const protocol::Setting& setting) {
  options_.setting = setting;
  const bool clamped = plant_.clamped();
  plant_.pump(setting);
  if (!clamped) plant_.unclamp();
  if (!clamped && carriage_m() < 0.0) {
    plant_.place_carriage(carriage_m());
  } else {
    constexpr double kLowering_s = 5.0;
    plant_.drive_to(carriage_m(), kLowering_s);
  }
}

void VirtualRig::hang_weight(double mass_kg, double gravity_m_s2) {
  fixture_ = Fixture::weight;
  weight_N_ = mass_kg * gravity_m_s2;
}

void VirtualRig::force_input(uint8_t bit, bool tripped) {
  uint8_t& forced = hal_.mechanics.forced_inputs;
  forced = static_cast<uint8_t>(tripped ? forced | bit : forced & ~bit);
  rig_->on_input_edge();
}

void VirtualRig::press_emergency_stop(bool pressed) {
  force_input(firmware::kInputEmergencyStop, pressed);
}

void VirtualRig::raise_due_faults() {
  auto& waiting = options_.faults;
  for (size_t i = 0; i < waiting.size();) {
    const Fault fault = waiting[i];
    const bool due = (fault.at_time_s && time_s() >= *fault.at_time_s) ||
                     (fault.at_carriage_m && carriage_m() >= *fault.at_carriage_m);
    if (!due) {
      ++i;
      continue;
    }
    waiting.erase(waiting.begin() + static_cast<ptrdiff_t>(i));
    inject(fault);
  }
}

void VirtualRig::inject(const Fault& fault) {
  if (cell_faults_.strike(fault, file_.bench.load_cell.counts_per_N)) return;
  switch (fault.kind) {
    case FaultKind::unplug:
      unplugged_ = true;
      return;
    case FaultKind::garbage_bytes:
      for (int i = 0; i < static_cast<int>(fault.amount); ++i) {
        output_.push_back(static_cast<uint8_t>(random_() >> 56));
      }
      return;
    case FaultKind::lost_bytes:
      bytes_to_lose_ += static_cast<size_t>(fault.amount);
      return;
    case FaultKind::lost_steps:
      hal_.mechanics.steps_to_lose += static_cast<int64_t>(fault.amount);
      return;
    case FaultKind::stuck_low_switch:
      return force_input(firmware::kInputLimitLow, true);
    case FaultKind::stuck_high_switch:
      return force_input(firmware::kInputLimitHigh, true);
    case FaultKind::dead_low_switch:
      return hal_.mechanics.kill_inputs(firmware::kInputLimitLow);
    case FaultKind::dead_high_switch:
      return hal_.mechanics.kill_inputs(firmware::kInputLimitHigh);
    case FaultKind::emergency_stop:
      return press_emergency_stop(true);
    case FaultKind::brown_out:
      hal_.mechanics.powered = false;
      return start_firmware();
    case FaultKind::slow_leak:
      plant_.set_leak(fault.amount);
      return;
    default:
      return;  // the cell's, above
  }
}

}  // namespace controller::virtual_rig
