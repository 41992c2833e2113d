// A file's text, or with "-" what comes on the standard input.
#pragma once

#include <string>

#include "protocol/result.hpp"

namespace controller::cli {

// ERRORS: usage where the standard input is a keyboard; as read_text_file().
protocol::Result<std::string> read_input(const std::string& file, size_t bytes_max);

// How messages and records call it.
inline std::string input_name(const std::string& file) {
  return file == "-" ? "standard input" : file;
}

}  // namespace controller::cli
