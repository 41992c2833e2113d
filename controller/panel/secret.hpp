// Random words that nobody guesses, and their comparison in a time that does not tell how much of
// one was right.
#pragma once

#include <string>
#include <string_view>

namespace controller::panel {

// 64 hexadecimal digits from the system's random source.
std::string new_secret();

bool same_secret(std::string_view a, std::string_view b);

}  // namespace controller::panel
