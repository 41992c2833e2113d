// An option's value that is a list: "1 mm/s, 4 mm/s".
#pragma once

#include <string>
#include <string_view>
#include <vector>

#include "protocol/units.hpp"

namespace controller::cli {

// Each word without the blanks around it.
inline std::vector<std::string> comma_list(std::string_view text) {
  std::vector<std::string> out;
  while (!text.empty()) {
    const std::size_t comma = text.find(',');
    out.emplace_back(protocol::trimmed(text.substr(0, comma)));
    text = comma == std::string_view::npos ? std::string_view() : text.substr(comma + 1);
  }
  return out;
}

}  // namespace controller::cli
