#include "tests/firmware/latency_trials.hpp"

#include <algorithm>
#include <random>
#include <stdexcept>

#include "tests/controller/virtual_rig_client.hpp"
#include "tests/firmware/simulated_rig.hpp"

namespace tests {
namespace {

namespace wire = protocol::wire;
using controller::virtual_rig::BasicRigClient;
using Client = BasicRigClient<SimulatedRig>;

constexpr uint16_t kHostTimeout_ms = 200;
constexpr uint32_t kSpeed_steps_per_s = 4000;
constexpr int32_t kWay_steps = 4000;
constexpr int32_t kOverLimit_counts = 5000000;  // the client allows 4 million

uint16_t fault_of(StopCause cause) {
  switch (cause) {
    case StopCause::emergency_stop:
      return wire::kFaultEmergencyStop;
    case StopCause::limit_switch:
      return wire::kFaultLimitHigh;
    case StopCause::over_limit:
      return wire::kFaultForce;
    case StopCause::host_silent:
      return wire::kFaultHostLost;
  }
  return 0;
}

void need(bool good, const char* what) {
  if (!good) throw std::runtime_error(what);
}

// Brings the cause about. RETURNS the cycle that counts as the reason to stop.
uint64_t bring_about(StopCause cause, SimulatedRig& rig, Client& client) {
  switch (cause) {
    case StopCause::emergency_stop:
      rig.press_emergency_stop(true);
      return rig.chip().cycle();
    case StopCause::limit_switch:
      rig.force_switch(controller::firmware::kInputLimitHigh, true);
      return rig.chip().cycle();
    case StopCause::over_limit: {
      rig.add_counts(kOverLimit_counts);
      const uint64_t before = rig.last_conversion_cycle();
      for (int i = 0; i < 40 && rig.last_conversion_cycle() == before; ++i) client.run_ms(1);
      return rig.last_conversion_cycle();
    }
    case StopCause::host_silent:
      client.send(wire::Heartbeat{});
      client.heartbeats = false;
      while (rig.sending()) rig.advance_cycles(kCyclesPerMs / 50);
      return rig.chip().cycle() + kHostTimeout_ms * kCyclesPerMs;
  }
  return 0;
}

void end(StopCause cause, SimulatedRig& rig, Client& client) {
  rig.press_emergency_stop(false);
  rig.force_switch(controller::firmware::kInputLimitHigh, false);
  rig.add_counts(0);
  client.heartbeats = true;
  client.run_ms(50);
  if (cause == StopCause::host_silent) {
    client.hello.reset();
    client.open(kHostTimeout_ms);
  }
  need(client.ask(wire::ClearFaults{}) == wire::Refusal::none, "the faults were not cleared");
}

Trial run_one(StopCause cause, SimulatedRig& rig, Client& client, std::mt19937_64& random) {
  const auto homed = client.carry_out(wire::Home{4000, 800, 50000, 200, 200000});
  need(homed && homed->kind == wire::EventKind::homed, "the rig was not homed");
  need(client.ask(wire::Move{kWay_steps, kSpeed_steps_per_s, 50000}) == wire::Refusal::none,
       "the rig did not set out");
  client.events.clear();
  client.run_ms(100 + static_cast<int>(random() % 100));
  rig.advance_cycles(random() % (2 * kCyclesPerMs));
  const uint64_t since = bring_about(cause, rig, client);
  for (int i = 0; i < 2 * kHostTimeout_ms && client.events.empty(); ++i) client.run_ms(1);
  client.run_ms(20);
  Trial trial;
  trial.steps_after = rig.steps_after(since);
  trial.latched = !client.events.empty() && (client.faults() & fault_of(cause)) != 0;
  if (rig.last_step_cycle() > since) {
    trial.late_cycles = rig.last_step_cycle() - since + kInterruptEntryCycles;
  }
  end(cause, rig, client);
  return trial;
}

}  // namespace

const char* name_of(StopCause cause) {
  switch (cause) {
    case StopCause::emergency_stop:
      return "emergency stop to last step";
    case StopCause::limit_switch:
      return "limit switch to last step";
    case StopCause::over_limit:
      return "over-limit conversion to last step";
    case StopCause::host_silent:
      return "host's time-out to last step";
  }
  return "";
}

std::vector<Trial> run_trials(StopCause cause, int count, uint64_t seed) {
  SimulatedRig rig(SPRINGWRIGHT_CHIP_ELF, controller::virtual_rig::shipped_fork("larch_160"),
                   controller::virtual_rig::pumped_options());
  Client client(rig);
  client.run_ms(20);
  client.open(kHostTimeout_ms);
  std::mt19937_64 random(seed);
  std::vector<Trial> trials;
  for (int i = 0; i < count; ++i) trials.push_back(run_one(cause, rig, client, random));
  return trials;
}

MemoryUsed memory_used() {
  SimulatedRig rig(SPRINGWRIGHT_CHIP_ELF, controller::virtual_rig::shipped_fork("larch_160"),
                   controller::virtual_rig::pumped_options());
  Client client(rig);
  client.run_ms(20);
  client.open();
  client.home();
  client.move(1000);
  return {rig.chip().static_used(), rig.chip().stack_used()};
}

Worst worst_of(const std::vector<Trial>& trials) {
  Worst worst;
  for (const Trial& trial : trials) {
    const double late_us =
        1e6 * static_cast<double>(trial.late_cycles) / static_cast<double>(kCyclesPerSecond);
    worst.late_us = std::max(worst.late_us, late_us);
    worst.steps_after = std::max(worst.steps_after, trial.steps_after);
    worst.not_latched += trial.latched ? 0 : 1;
  }
  return worst;
}

}  // namespace tests
