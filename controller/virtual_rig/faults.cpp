#include "controller/virtual_rig/faults.hpp"

#include <fmt/format.h>

#include <array>
#include <string>

#include "protocol/units.hpp"

namespace controller::virtual_rig {
namespace {

using protocol::Dimension;
using protocol::Errc;
using protocol::Error;
using protocol::Result;

struct Named {
  std::string_view name;
  FaultKind kind;
  double amount;  // where none is said
};

constexpr std::array kKinds = {
    Named{"unplug", FaultKind::unplug, 0.0},
    Named{"garbage_bytes", FaultKind::garbage_bytes, 20.0},
    Named{"lost_bytes", FaultKind::lost_bytes, 20.0},
    Named{"stuck_load_cell", FaultKind::stuck_load_cell, 0.0},
    Named{"saturated_load_cell", FaultKind::saturated_load_cell, 0.0},
    Named{"silent_load_cell", FaultKind::silent_load_cell, 0.0},
    Named{"noisy_load_cell", FaultKind::noisy_load_cell, 40.0},
    Named{"reversed_load_cell", FaultKind::reversed_load_cell, 0.0},
    Named{"lost_steps", FaultKind::lost_steps, 40.0},
    Named{"stuck_low_switch", FaultKind::stuck_low_switch, 0.0},
    Named{"stuck_high_switch", FaultKind::stuck_high_switch, 0.0},
    Named{"dead_low_switch", FaultKind::dead_low_switch, 0.0},
    Named{"dead_high_switch", FaultKind::dead_high_switch, 0.0},
    Named{"emergency_stop", FaultKind::emergency_stop, 0.0},
    Named{"brown_out", FaultKind::brown_out, 0.0},
    Named{"slow_leak", FaultKind::slow_leak, 1e-4},
};

Error misread(std::string_view text, const std::string& why) {
  return {Errc::usage,
          fmt::format("'{}' is not a fault: {}; write for example \"emergency_stop@30 s\".", text,
                      why)};
}

Result<Fault> parse_fault(std::string_view text) {
  const size_t when = text.find('@');
  if (when == std::string_view::npos) return misread(text, "it does not say when");
  std::string_view name = text.substr(0, when);
  std::optional<double> amount;
  if (const size_t equals = name.find('='); equals != std::string_view::npos) {
    const Result<double> number = protocol::parse_number(name.substr(equals + 1));
    if (!number || *number < 0.0) return misread(text, "its amount is not a number");
    amount = *number;
    name = name.substr(0, equals);
  }
  for (const Named& known : kKinds) {
    if (known.name != name) continue;
    Fault fault;
    fault.kind = known.kind;
    fault.amount = amount.value_or(known.amount);
    const std::string_view place = text.substr(when + 1);
    if (const Result<double> time_s = protocol::parse_quantity(place, Dimension::time)) {
      fault.at_time_s = *time_s;
    } else if (const Result<double> at_m = protocol::parse_quantity(place, Dimension::length)) {
      fault.at_carriage_m = *at_m;
    } else {
      return misread(text, "behind the @ stands neither a time nor a length with its unit");
    }
    return fault;
  }
  std::string names;
  for (const Named& known : kKinds)
    names += fmt::format("{}{}", names.empty() ? "" : ", ", known.name);
  return misread(text, "known are " + names);
}

}  // namespace

Result<std::vector<Fault>> parse_faults(std::string_view text) {
  std::vector<Fault> faults;
  while (!text.empty()) {
    const size_t comma = text.find(',');
    const Result<Fault> fault = parse_fault(text.substr(0, comma));
    if (!fault) return fault.error();
    faults.push_back(*fault);
    text = comma == std::string_view::npos ? std::string_view{} : text.substr(comma + 1);
  }
  return faults;
}

}  // namespace controller::virtual_rig
