// What a workshop folder holds, as one JSON object: the answer of `list`, and the page's library.
#pragma once

#include <filesystem>

#include "protocol/record/json_fields.hpp"

namespace controller::cli {

// {"folder", "records": [...], "models": [...], "reports": [...], "unreadable": [...]}
protocol::Json describe_workshop(const std::filesystem::path& folder);

}  // namespace controller::cli
