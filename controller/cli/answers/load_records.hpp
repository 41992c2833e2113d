// The records named on a command line, in their order.
#pragma once

#include <string>
#include <vector>

#include "controller/cli/commands.hpp"
#include "protocol/record/sweep_record.hpp"
#include "protocol/result.hpp"

namespace controller::cli {

// ERRORS: those of the first that cannot be read.
protocol::Result<std::vector<protocol::SweepRecord>> load_records(
    const std::vector<std::string>& paths, Console& console);

}  // namespace controller::cli
