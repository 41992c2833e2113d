// What only the world outside can give a record: the date and a name that no other record has.
#pragma once

#include <string>

namespace controller::cli {

// ISO 8601 with seconds, such as "2026-11-25T14:03:07Z".
std::string utc_now();

// The date alone, such as "2026-11-25".
std::string today();

// The date and 48 random bits, such as "20261125T140307Z-5f0c91a2b3d4".
std::string new_record_id();

}  // namespace controller::cli
