// `springwright calibrate check`: one known load against a certificate. Part of calibrate.cpp's
// group.
#pragma once

#include "controller/cli/commands.hpp"

namespace controller::cli {

void add_calibrate_check(Commands& commands, CLI::App& group);

}  // namespace controller::cli
