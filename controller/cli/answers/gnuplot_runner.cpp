#include "controller/cli/answers/gnuplot_runner.hpp"

#include <fcntl.h>
#include <fmt/format.h>
#include <poll.h>
#include <spawn.h>
#include <sys/mman.h>
#include <sys/wait.h>
#include <unistd.h>

#include <cerrno>
#include <csignal>
#include <cstring>

extern "C" char** environ;

#include "controller/cli/descriptor.hpp"

namespace controller::cli {
namespace {

using protocol::Errc;
using protocol::Error;
using protocol::Result;
using std::chrono::steady_clock;

// gnuplot's words are for a message, not for an archive.
constexpr std::size_t kComplaintBytesMax = 4096;

Error system_error(std::string_view what) {
  return {Errc::write_failed,
          fmt::format("cannot run gnuplot: {} failed: {}", what, std::strerror(errno))};
}

bool write_all(int descriptor, std::string_view bytes) {
  while (!bytes.empty()) {
    const ssize_t count = ::write(descriptor, bytes.data(), bytes.size());
    if (count < 0 && errno == EINTR) continue;
    if (count <= 0) return false;
    bytes.remove_prefix(static_cast<std::size_t>(count));
  }
  return ::lseek(descriptor, 0, SEEK_SET) == 0;
}

Result<std::string> read_from_start(int descriptor) {
  std::string bytes;
  char chunk[65536];
  off_t at = 0;
  for (;;) {
    const ssize_t count = ::pread(descriptor, chunk, sizeof chunk, at);
    if (count < 0 && errno == EINTR) continue;
    if (count < 0) return system_error("reading the drawing");
    if (count == 0) return bytes;
    bytes.append(chunk, static_cast<std::size_t>(count));
    at += count;
  }
}

// The caller's environment with a fixed locale: numbers and text never depend on the person's.
std::vector<std::string> child_environment() {
  std::vector<std::string> variables;
  for (char** each = environ; *each != nullptr; ++each) {
    const std::string_view variable(*each);
    if (!variable.starts_with("LC_") && !variable.starts_with("LANG") &&
        !variable.starts_with("GNUTERM=")) {
      variables.emplace_back(variable);
    }
  }
  variables.emplace_back("LC_ALL=C.UTF-8");
  return variables;
}

std::vector<char*> pointers(std::vector<std::string>& texts) {
  std::vector<char*> list;
  for (auto& text : texts) list.push_back(text.data());
  list.push_back(nullptr);
  return list;
}

Result<pid_t> start(const GnuplotOptions& options, int script, int drawing, int complaints) {
  std::vector<std::string> words = {options.program};
  words.insert(words.end(), options.arguments.begin(), options.arguments.end());
  std::vector<std::string> variables = child_environment();

  posix_spawn_file_actions_t actions;
  if (posix_spawn_file_actions_init(&actions) != 0) return system_error("spawn set-up");
  posix_spawn_file_actions_adddup2(&actions, script, STDIN_FILENO);
  posix_spawn_file_actions_adddup2(&actions, drawing, STDOUT_FILENO);
  posix_spawn_file_actions_adddup2(&actions, complaints, STDERR_FILENO);
  pid_t child = 0;
  errno = posix_spawnp(&child, options.program.c_str(), &actions, nullptr, pointers(words).data(),
                       pointers(variables).data());
  posix_spawn_file_actions_destroy(&actions);
  if (errno == ENOENT) {
    return Error{Errc::write_failed,
                 fmt::format("{} is not installed, and the figures are drawn with it: "
                             "apt-get install gnuplot-nox",
                             options.program)};
  }
  if (errno != 0) return system_error("starting it");
  return child;
}

// Reads what gnuplot complains of until it closes its end, which it does by ending. RETURNS: false
// when the deadline came first.
bool listen(int complaints, steady_clock::time_point deadline, std::string& words) {
  for (;;) {
    const auto left =
        std::chrono::ceil<std::chrono::milliseconds>(deadline - steady_clock::now()).count();
    if (left <= 0) return false;
    pollfd waiting{complaints, POLLIN, 0};
    const int ready = ::poll(&waiting, 1, static_cast<int>(left));
    if (ready <= 0) continue;
    char chunk[1024];
    const ssize_t count = ::read(complaints, chunk, sizeof chunk);
    if (count < 0 && (errno == EINTR || errno == EAGAIN)) continue;
    if (count <= 0) return true;
    if (words.size() < kComplaintBytesMax) words.append(chunk, static_cast<std::size_t>(count));
  }
}

int wait_for(pid_t child) {
  int status = 0;
  while (::waitpid(child, &status, 0) < 0 && errno == EINTR) {
  }
  return status;
}

std::string trimmed(std::string text) {
  while (!text.empty() && (text.back() == '\n' || text.back() == ' ')) text.pop_back();
  return text;
}

}  // namespace

Result<std::string> run_gnuplot(std::string_view script, const GnuplotOptions& options) {
  Descriptor input(::memfd_create("script", MFD_CLOEXEC));
  Descriptor output(::memfd_create("drawing", MFD_CLOEXEC));
  int ends[2] = {-1, -1};
  if (input.number() < 0 || output.number() < 0 || ::pipe2(ends, O_CLOEXEC) != 0) {
    return system_error("making room for a figure");
  }
  Descriptor complaints_read(ends[0]);
  Descriptor complaints_write(ends[1]);
  if (!write_all(input.number(), script)) return system_error("handing over the script");

  const auto deadline = steady_clock::now() + options.time_limit;
  auto child = start(options, input.number(), output.number(), complaints_write.number());
  if (!child) return child.error();
  complaints_write.close();

  std::string complaints;
  if (!listen(complaints_read.number(), deadline, complaints)) {
    ::kill(*child, SIGKILL);
    wait_for(*child);
    return Error{
        Errc::write_failed,
        fmt::format("{} did not finish a figure within {} s and was stopped; a busy "
                    "machine or a missing font cache may be the cause, so try again",
                    options.program, std::chrono::duration<double>(options.time_limit).count())};
  }
  const int status = wait_for(*child);
  auto drawing = read_from_start(output.number());
  if (!drawing) return drawing.error();
  complaints = trimmed(std::move(complaints));
  if (!WIFEXITED(status) || WEXITSTATUS(status) != 0 || drawing->empty()) {
    return Error{Errc::write_failed,
                 fmt::format("{} could not draw a figure: {}", options.program,
                             complaints.empty() ? "it said nothing and drew nothing" : complaints)};
  }
  return drawing;
}

}  // namespace controller::cli
