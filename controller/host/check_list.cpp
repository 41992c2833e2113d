#include "controller/host/check_list.hpp"

#include <fmt/format.h>

namespace controller::host {

using protocol::Errc;
using protocol::Error;
using protocol::in_unit;
using protocol::Result;

std::vector<std::string> check_list(const protocol::Fork& fork, const protocol::Setting& setting) {
  std::vector<std::string> items = {
      fmt::format("{} is mounted straight, and the emergency stop is within reach.", fork.name)};
  if (setting.coupling == protocol::Coupling::clamped) {
    items.emplace_back(
        "The axle lies free in its fixture: the rig looks for its home first, and "
        "the clamp is closed when asked for.");
  }
  items.emplace_back("The guard is closed.");
  items.emplace_back("Compression and rebound clicks are open, and there is no lock-out.");
  const bool air = protocol::has_air_spring(fork.kind);
  if (protocol::has_lower_legs(fork.kind)) {
    items.push_back(fmt::format(
        "The lower legs were last vented at {:.0f} mm of travel, to {:.0f} hPa at {:.0f} degC.",
        in_unit(setting.vent.travel_m, "mm"), setting.vent.pressure_Pa / 100.0,
        in_unit(setting.vent.temperature_K, "degC")));
  }
  if (!air) {
    items.emplace_back("The coil sits straight in its seats, preloaded as noted.");
    return items;
  }
  items.emplace_back(
      "The fork was cycled slowly at least five times since it was pumped, so that "
      "its chambers are equal.");
  items.push_back(fmt::format(
      "The pressure was read again, fully extended: {:.1f} psi ({:.2f} "
      "bar), with {} volume spacer{}.",
      in_unit(setting.pressure_gauge_Pa, "psi"), in_unit(setting.pressure_gauge_Pa, "bar"),
      setting.spacers, setting.spacers == 1 ? "" : "s"));
  items.emplace_back("The gas has settled after pumping (a few minutes).");
  return items;
}

Result<CheckedOff> go_through(const std::vector<std::string>& items, Operator& person,
                              StopSource& stop) {
  for (const std::string& item : items) {
    person.ask(item);
    Answer answer = Answer::pending;
    while (answer == Answer::pending && stop.level() == StopLevel::none) {
      answer = person.answer(std::chrono::milliseconds(100));
    }
    if (answer != Answer::done) {
      return Error{Errc::stopped_by_operator,
                   "Not started: the check list was not confirmed. Nothing has moved."};
    }
  }
  return CheckedOff();
}

}  // namespace controller::host
