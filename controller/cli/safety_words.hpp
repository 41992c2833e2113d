// The cautions that every command which moves or loads the rig shows in its help.
#pragma once

namespace controller::cli {

inline constexpr char kSafetyWords[] =
    "Cautions: the rig can crush a hand, and a fork holds compressed air. Guard the press. Wire "
    "the\n"
    "emergency stop so that it cuts motor power in hardware; software limits are not a safety\n"
    "function. A compressed spring can drive an unpowered carriage back. Vent the fork before\n"
    "removing it, and never exceed its own pressure limit. Local codes and a competent person "
    "come\n"
    "first.";

}  // namespace controller::cli
