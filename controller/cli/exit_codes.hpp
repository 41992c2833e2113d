// The exit codes in words: one place for --help and the manual. They are stable: scripts depend on
// them.
#pragma once

#include <array>

#include "protocol/error.hpp"

namespace controller::cli {

struct ExitCodeWords {
  protocol::ExitCode code;
  const char* briefly;
  const char* meaning;
};

inline constexpr std::array<ExitCodeWords, 8> kExitCodes = {{
    {protocol::ExitCode::done, "done", "done"},
    {protocol::ExitCode::usage, "usage", "the command line is wrong"},
    {protocol::ExitCode::unusable_input, "unusable input",
     "input that cannot be used: missing, malformed, an unknown key, a pressure over the fork's "
     "limit"},
    {protocol::ExitCode::rig_or_link, "rig or link",
     "rig or link: port missing or taken, not a rig, another protocol version, cable pulled"},
    {protocol::ExitCode::stopped, "stopped", "stopped for safety or by the operator"},
    {protocol::ExitCode::fit_not_usable, "fit not usable",
     "the fit is not usable (the model file is written, marked so)"},
    {protocol::ExitCode::could_not_write, "could not write",
     "could not write: disk full, or the output exists already"},
    {protocol::ExitCode::bug, "our own bug", "a mistake of ours; please report it"},
}};

}  // namespace controller::cli
