#include "controller/cli/workshop/input_text.hpp"

#include <fmt/format.h>
#include <unistd.h>

#include "protocol/record/file_system.hpp"

namespace controller::cli {

using protocol::Errc;
using protocol::Error;

protocol::Result<std::string> read_input(const std::string& file, size_t bytes_max) {
  if (file != "-") return protocol::read_text_file(file, bytes_max);
  if (isatty(STDIN_FILENO) == 1) {
    return Error{Errc::usage,
                 "\"-\" reads what another program sends, and here is a keyboard; give "
                 "a file, or send one: springwright ... - < FILE.csv"};
  }
  std::string text;
  char part[1 << 16];
  for (ssize_t size = 0; (size = read(STDIN_FILENO, part, sizeof part)) > 0;) {
    text.append(part, static_cast<size_t>(size));
    if (text.size() > bytes_max) {
      return Error{Errc::input_out_of_range,
                   fmt::format("standard input: more than {} MB.", bytes_max >> 20)};
    }
  }
  return text;
}

}  // namespace controller::cli
