// Where the fork's travel begins: found by touch, with the load cell zeroed before.
//
//   axle clamped   contact from above, the clamp closes, then a gentle pull up to the top-out stop
//   push only      a slow approach to first contact; a fork may rest a millimetre into its travel,
//                  so that the doubt is larger
//
// The rig must be homed, with nothing on the load cell. Sets both zeros of the press's instruments.
#pragma once

#include "controller/host/bench_operator.hpp"
#include "controller/host/press.hpp"

namespace controller::host {

struct TopOutSettings {
  protocol::Coupling coupling = protocol::Coupling::clamped;
  double contact_N = 15.0;  // a dozen times a load cell's noise
  double pull_N = 30.0;     // above a fork's friction at rest, far below what could harm it
  double approach_speed_m_s = 0.002;
  double pull_speed_m_s = 0.0002;
  double approach_way_max_m = 0.150;
  double pull_way_max_m = 0.020;
  double push_doubt_m = 0.0005;  // standard uncertainty where the rig cannot pull
  int zero_samples = 80;
};

struct TopOut {
  ZeroReading zero;
};

// Asks, and looks after the rig until the person has answered. ERRORS: those of the press;
// stopped_by_operator, in these words, where the answer is no.
protocol::Result<void> wait_for(Press& press, Operator& person, const std::string& what,
                                const std::string& refusal = "Stopped by the operator.");

// ERRORS: those of the press; stopped_by_guard where no fork is felt; stopped_by_operator.
protocol::Result<TopOut> find_top_out(Press& press, const TopOutSettings& settings,
                                      Operator& person);

// The unloaded cell once more, after the sweep, the rig homed again. A clamp is opened first.
protocol::Result<ZeroReading> read_zero_again(Press& press, const TopOutSettings& settings,
                                              Operator& person);

}  // namespace controller::host
