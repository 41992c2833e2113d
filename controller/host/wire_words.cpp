#include "controller/host/wire_words.hpp"

#include <fmt/format.h>

namespace controller::host {

namespace wire = protocol::wire;

namespace {

struct FaultWords {
  uint16_t bit;
  const char* what;
  const char* advice;
};

constexpr FaultWords kFaults[] = {
    {wire::kFaultEmergencyStop, "the emergency stop was pressed or its wire is broken",
     "Make the bench safe, release the emergency stop, then home the rig."},
    {wire::kFaultLimitLow, "the limit switch at the extended end tripped",
     "Look why the carriage came so far, then home the rig."},
    {wire::kFaultLimitHigh, "the limit switch at the compressed end tripped",
     "Look why the carriage came so far, move off the switch (\"rig move --by\"), then home."},
    {wire::kFaultForce, "the force went beyond its limit",
     "Look what was in the way, or whether the fork bottomed out, then home the rig."},
    {wire::kFaultLoadCellMissing, "the load cell fell silent", "Check its cable, then home."},
    {wire::kFaultLoadCellSaturated, "the load cell is at the end of its range",
     "Check for an overload and for a broken wire, then home the rig."},
    {wire::kFaultLoadCellFrozen, "the load cell's reading is frozen",
     "Check its cable and amplifier, then home the rig."},
    {wire::kFaultHostLost, "it heard nothing from this computer for too long",
     "Check the cable and the load of this computer, then home the rig."},
    {wire::kFaultMainLoopStuck, "its main loop hung", "Switch the rig off and on, then home it."},
    {wire::kFaultTravel, "the carriage came to the end of the permitted travel",
     "Check the travel limits, then home the rig."},
    {wire::kFaultHomingFailed, "the home switch was not found",
     "Check that switch and that the carriage is free to reach it, then home again."},
};

}  // namespace

std::string request_word(wire::MessageType type) {
  switch (type) {
    case wire::MessageType::hello:
      return "hello";
    case wire::MessageType::stop:
      return "stop";
    case wire::MessageType::halt:
      return "halt";
    case wire::MessageType::clear_faults:
      return "clear faults";
    case wire::MessageType::home:
      return "home";
    case wire::MessageType::touch:
      return "touch";
    case wire::MessageType::move:
      return "move";
    case wire::MessageType::jog:
      return "jog";
    case wire::MessageType::set_limits:
      return "set limits";
    case wire::MessageType::start_sampling:
      return "start sampling";
    case wire::MessageType::stop_sampling:
      return "stop sampling";
    default:
      return fmt::format("request {:#x}", static_cast<unsigned>(type));
  }
}

std::string refusal_words(wire::Refusal refusal) {
  switch (refusal) {
    case wire::Refusal::none:
      return "accepted";
    case wire::Refusal::unknown_request:
      return "it does not know this request; its firmware is older than this program";
    case wire::Refusal::bad_payload:
      return "it cannot read this request; firmware and program do not match";
    case wire::Refusal::out_of_range:
      return "a value is beyond what it can do; ask for less speed or a shorter way";
    case wire::Refusal::no_session:
      return "it has forgotten this session; connect again and home it";
    case wire::Refusal::busy:
      return "it is moving; stop it first";
    case wire::Refusal::faulted:
      return "a fault is latched; see \"springwright rig show\", then home it";
    case wire::Refusal::not_homed:
      return "its position is unknown; home it first";
    case wire::Refusal::inputs_active:
      return "the emergency stop or a limit switch is still tripped, or a wire is broken; release "
             "it first";
    case wire::Refusal::limits_not_set:
      return "its limits have not been set in this session";
    case wire::Refusal::outside_travel:
      return "the target lies beyond the travel limits";
    case wire::Refusal::force_over_limit:
      return "the force is beyond its limit already; home it, or take the load off";
    case wire::Refusal::no_reading:
      return "its load cell has not spoken yet; check the cell's cable";
    case wire::Refusal::not_away_from_switch:
      return "with an unknown position it moves only off a tripped limit switch; home it";
  }
  return fmt::format("refusal {}, which this program does not know",
                     static_cast<unsigned>(refusal));
}

std::string fault_words(uint16_t faults) {
  std::string words;
  for (const FaultWords& fault : kFaults) {
    if ((faults & fault.bit) == 0) continue;
    if (!words.empty()) words += ", ";
    words += fault.what;
  }
  return words.empty() ? "none" : words;
}

std::string fault_advice(uint16_t faults) {
  for (const FaultWords& fault : kFaults) {
    if ((faults & fault.bit) != 0) return fault.advice;
  }
  return "";
}

}  // namespace controller::host
