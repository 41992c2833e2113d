#include "controller/cli/bench/terminal_operator.hpp"

#include <fmt/ostream.h>
#include <poll.h>
#include <unistd.h>

#include "controller/cli/bench/correspondent.hpp"

namespace controller::cli {

using host::Answer;

bool TerminalOperator::is_present(const Console& console) {
  if (console.correspondent != nullptr) return true;
  return !console.is_quiet && isatty(STDIN_FILENO) == 1;
}

void TerminalOperator::ask(const std::string& what) {
  if (console_.correspondent != nullptr) return console_.correspondent->ask(what);
  line_.clear();
  // On a line of its own: a progress bar may go on below it.
  fmt::print(console_.err, "{}{} [Enter: yes, n: no]\n", console_.err_is_terminal ? "\r\033[K" : "",
             what);
  console_.err.flush();
}

// Not by std::cin: while it waits neither the heartbeat nor Ctrl-C would get through.
Answer TerminalOperator::answer(std::chrono::milliseconds patience) {
  if (console_.correspondent != nullptr) return console_.correspondent->answer(patience);
  pollfd keyboard{STDIN_FILENO, POLLIN, 0};
  if (poll(&keyboard, 1, static_cast<int>(patience.count())) <= 0) return Answer::pending;
  char each = 0;
  while (read(STDIN_FILENO, &each, 1) == 1) {
    if (each == '\n') return line_.empty() || line_[0] == 'y' ? Answer::done : Answer::refused;
    line_ += each;
    if (poll(&keyboard, 1, 0) <= 0) return Answer::pending;
  }
  return Answer::refused;  // the keyboard is gone
}

}  // namespace controller::cli
