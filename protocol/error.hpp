// An error as the host carries it: its kind, and one sentence that says what, with which values,
// and what to do next. Never included by the freestanding parts.
#pragma once

#include <string>
#include <utility>

#include "protocol/errc.hpp"

namespace protocol {

struct Error {
  Errc code = Errc::bug;
  std::string message;
};

// The process exit codes, stable since scripts depend on them.
enum class ExitCode : int {
  done = 0,
  usage = 2,
  unusable_input = 3,
  rig_or_link = 4,
  stopped = 5,
  fit_not_usable = 6,
  could_not_write = 7,
  bug = 70,
};

ExitCode exit_code(Errc code);

// Prefixes the message with the place it concerns, such as "sweeps/larch.csv:12:3".
Error at(const std::string& place, Error error);

// For mistakes of our own: prints the condition and the place, and aborts.
[[noreturn]] void fail_ensure(const char* condition, const char* file, int line);

}  // namespace protocol

// Always on. For what only a bug of ours can break, never for input.
#define ENSURE(condition) \
  ((condition) ? void(0) : ::protocol::fail_ensure(#condition, __FILE__, __LINE__))
