#include "controller/host/serial_port.hpp"

#include <fcntl.h>
#include <fmt/format.h>
#include <sys/file.h>
#include <sys/ioctl.h>
#include <sys/stat.h>
#include <termios.h>
#include <unistd.h>

#include <algorithm>
#include <cerrno>
#include <cstring>
#include <filesystem>
#include <fstream>
#include <set>
#include <utility>

namespace controller::host {
namespace {

using protocol::Errc;
using protocol::Error;
using protocol::Result;
namespace fs = std::filesystem;

Error taken(const std::string& path) {
  const std::optional<PortHolder> holder = holder_of_port(path);
  const std::string who = holder ? fmt::format("process {} ({})", holder->process, holder->name)
                                 : std::string("another program");
  return {
      Errc::port_taken,
      fmt::format("The port '{}' is in use by {}; close that program and try again.", path, who)};
}

Error open_error(const std::string& path, int number) {
  switch (number) {
    case ENOENT:
    case ENODEV:
    case ENXIO:
    case ENOTDIR:
      return {Errc::port_missing,
              fmt::format("There is no port '{}'. Is the rig plugged in and switched on? "
                          "\"springwright rig find\" lists what there is.",
                          path)};
    case EACCES:
    case EPERM:
      return {Errc::port_forbidden,
              fmt::format("The port '{}' may not be opened by this user. Join the group that owns "
                          "it (\"sudo usermod -aG dialout $USER\"), then log out and in again.",
                          path)};
    case EBUSY:
      return taken(path);
    default:
      return {Errc::not_a_rig,
              fmt::format("'{}' cannot be opened as a port: {}.", path, std::strerror(number))};
  }
}

// Raw bytes, 8N1, no flow control, no modem lines, and DTR left alone when it closes.
Result<void> set_line(const std::string& path, int descriptor) {
  termios line{};
  if (tcgetattr(descriptor, &line) != 0) return open_error(path, errno);
  cfmakeraw(&line);
  line.c_cflag &= ~static_cast<tcflag_t>(CSTOPB | PARENB | CRTSCTS | HUPCL);
  line.c_cflag |= static_cast<tcflag_t>(CLOCAL | CREAD | CS8);
  line.c_cc[VMIN] = 1;
  line.c_cc[VTIME] = 0;
  if (cfsetspeed(&line, B500000) != 0 || tcsetattr(descriptor, TCSANOW, &line) != 0) {
    return Error{Errc::not_a_rig, fmt::format("The port '{}' cannot be set to 500000 baud: {}.",
                                              path, std::strerror(errno))};
  }
  tcflush(descriptor, TCIOFLUSH);
  return {};
}

std::string first_line(const fs::path& path) {
  std::ifstream file(path);
  std::string line;
  std::getline(file, line);
  return line;
}

bool has_open(const fs::path& process, const struct stat& port) {
  std::error_code error;
  for (const auto& entry : fs::directory_iterator(process / "fd", error)) {
    struct stat open {};
    // An open tty that was unplugged since, or a process of someone else, answers nothing.
    if (stat(entry.path().c_str(), &open) == 0 && S_ISCHR(open.st_mode) &&
        open.st_rdev == port.st_rdev) {
      return true;
    }
  }
  return false;
}

}  // namespace

PortHandle::~PortHandle() {
  if (descriptor_ < 0) return;
  // The last close would give the claim back too; but somebody may have opened it before.
  if (claimed_) ioctl(descriptor_, TIOCNXCL);
  close(descriptor_);
}

PortHandle::PortHandle(PortHandle&& other) noexcept
    : descriptor_(std::exchange(other.descriptor_, -1)), claimed_(other.claimed_) {}

bool PortHandle::claim() {
  claimed_ = ioctl(descriptor_, TIOCEXCL) == 0;
  return claimed_;
}

Result<PortHandle> open_serial_port(const std::string& path) {
  PortHandle port(open(path.c_str(), O_RDWR | O_NOCTTY | O_NONBLOCK | O_CLOEXEC));
  if (port.get() < 0) return open_error(path, errno);
  if (isatty(port.get()) != 1) {
    return Error{Errc::not_a_rig,
                 fmt::format("'{}' is not a serial port. \"springwright rig find\" lists what "
                             "there is.",
                             path)};
  }
  if (flock(port.get(), LOCK_EX | LOCK_NB) != 0) return taken(path);
  int exclusive = 0;
  if (ioctl(port.get(), TIOCGEXCL, &exclusive) == 0 && exclusive != 0) return taken(path);
  if (!port.claim()) return open_error(path, errno);
  const Result<void> set = set_line(path, port.get());
  if (!set) return set.error();
  return port;
}

std::optional<PortHolder> holder_of_port(const std::string& path) {
  struct stat port {};
  if (stat(path.c_str(), &port) != 0) return std::nullopt;
  std::error_code error;
  for (const auto& entry : fs::directory_iterator("/proc", error)) {
    const std::string id = entry.path().filename().string();
    if (id.find_first_not_of("0123456789") != std::string::npos) continue;
    const int process = std::stoi(id);
    if (process == getpid() || !has_open(entry.path(), port)) continue;
    return PortHolder{process, first_line(entry.path() / "comm")};
  }
  return std::nullopt;
}

std::vector<std::string> find_serial_ports() {
  std::vector<std::string> ports;
  std::set<fs::path> named;
  std::error_code error;
  for (const auto& entry : fs::directory_iterator("/dev/serial/by-id", error)) {
    ports.push_back(entry.path().string());
    named.insert(fs::canonical(entry.path(), error));
  }
  for (const auto& entry : fs::directory_iterator("/dev", error)) {
    const std::string name = entry.path().filename().string();
    const bool serial = name.rfind("ttyUSB", 0) == 0 || name.rfind("ttyACM", 0) == 0;
    if (serial && named.count(entry.path()) == 0) ports.push_back(entry.path().string());
  }
  std::sort(ports.begin(), ports.end());
  return ports;
}

}  // namespace controller::host
