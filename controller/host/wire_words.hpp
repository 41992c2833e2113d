// The numbers of the wire as words for people.
#pragma once

#include <string>

#include "protocol/wire/codes.hpp"

namespace controller::host {

// "move"
std::string request_word(protocol::wire::MessageType type);

// What is the matter and what to do: "its position is unknown; home it first".
std::string refusal_words(protocol::wire::Refusal refusal);

// "emergency stop pressed, host fell silent"; "none" without a fault.
std::string fault_words(uint16_t faults);

// What to do about the first of them.
std::string fault_advice(uint16_t faults);

}  // namespace controller::host
