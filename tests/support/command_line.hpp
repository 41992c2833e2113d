// The program's own command line, run inside the test.
#pragma once

#include <sstream>
#include <string>
#include <vector>

#include "controller/cli/commands.hpp"

namespace test_support {

struct CommandRun {
  int exit_code = 0;
  std::string answer;     // standard output
  std::string complaint;  // standard error
};

// `words` follow the program's name.
inline CommandRun run_words(const std::vector<std::string>& words) {
  std::vector<const char*> arguments = {"springwright"};
  for (const std::string& word : words) arguments.push_back(word.c_str());
  std::ostringstream out;
  std::ostringstream err;
  controller::cli::Console console{out, err};
  CommandRun run;
  run.exit_code = controller::cli::run_command_line(static_cast<int>(arguments.size()),
                                                    arguments.data(), console);
  run.answer = out.str();
  run.complaint = err.str();
  return run;
}

}  // namespace test_support
