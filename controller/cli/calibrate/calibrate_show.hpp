// `springwright calibrate show`: a certificate in words, and as a page to print. Part of
// calibrate.cpp's group.
#pragma once

#include "controller/cli/commands.hpp"

namespace controller::cli {

void add_calibrate_show(Commands& commands, CLI::App& group);

}  // namespace controller::cli
