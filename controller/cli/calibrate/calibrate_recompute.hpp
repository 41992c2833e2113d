// `springwright calibrate recompute`: an existing record by another certificate, as a new record.
#pragma once

#include "controller/cli/commands.hpp"

namespace controller::cli {

void add_calibrate_recompute(Commands& commands, CLI::App& group);

}  // namespace controller::cli
