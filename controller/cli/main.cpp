// The program: hands the command line to its commands, and catches what only a library can throw.
#include <fmt/ostream.h>
#include <unistd.h>

#include <csignal>
#include <cstdlib>
#include <exception>
#include <iostream>
#include <string_view>

#include "controller/cli/commands.hpp"

int main(int argc, char** argv) {
  // A file that may not grow further is an error to report, not the end of the process.
  std::signal(SIGXFSZ, SIG_IGN);
  const char* const terminal = std::getenv("TERM");
  const bool is_dumb = terminal != nullptr && std::string_view(terminal) == "dumb";
  controller::cli::Console console{std::cout, std::cerr, isatty(STDERR_FILENO) == 1 && !is_dumb};
  try {
    return controller::cli::run_command_line(argc, argv, console);
  } catch (const std::exception& error) {
    fmt::print(std::cerr, "springwright: internal error: {}. Please report it.\n", error.what());
    return static_cast<int>(protocol::ExitCode::bug);
  }
}
