#include "protocol/error.hpp"

#include <cstdio>
#include <cstdlib>

namespace protocol {

ExitCode exit_code(Errc code) {
  const int number = static_cast<int>(code);
  if (code == Errc::ok) return ExitCode::done;
  if (number < 10) return ExitCode::usage;
  if (number < 30) return ExitCode::unusable_input;
  if (number < 50) return ExitCode::rig_or_link;
  if (number < 60) return ExitCode::stopped;
  if (number < 70) return ExitCode::fit_not_usable;
  if (number < 90) return ExitCode::could_not_write;
  return ExitCode::bug;
}

Error at(const std::string& place, Error error) {
  error.message = place + ": " + error.message;
  return error;
}

void fail_ensure(const char* condition, const char* file, int line) {
  std::fprintf(stderr,
               "springwright: internal error: %s does not hold (%s:%d). Please report it.\n",
               condition, file, line);
  std::abort();
}

}  // namespace protocol
