#include "controller/virtual_rig/pty.hpp"

#include <fcntl.h>
#include <fmt/format.h>
#include <pty.h>
#include <sys/ioctl.h>
#include <termios.h>
#include <unistd.h>

#include <array>
#include <cerrno>
#include <system_error>

namespace controller::virtual_rig {

FileDescriptor& FileDescriptor::operator=(FileDescriptor&& other) noexcept {
  if (this != &other) {
    close();
    fd_ = other.fd_;
    other.fd_ = -1;
  }
  return *this;
}

void FileDescriptor::close() {
  if (fd_ >= 0) ::close(fd_);
  fd_ = -1;
}

protocol::Result<Pty> Pty::open() {
  int ours = -1;
  int theirs = -1;
  termios raw{};
  cfmakeraw(&raw);
  raw.c_cflag |= CREAD | CLOCAL;
  raw.c_cc[VMIN] = 1;
  std::array<char, 64> name{};
  if (openpty(&ours, &theirs, name.data(), &raw, nullptr) != 0) {
    return protocol::Error{
        protocol::Errc::port_missing,
        fmt::format(
            "no pseudo-terminal for the virtual rig: {}; free some terminals, or check that "
            "/dev/pts is mounted.",
            std::generic_category().message(errno))};
  }
  Pty pty;
  pty.ours_ = FileDescriptor(ours);
  pty.theirs_ = FileDescriptor(theirs);
  pty.path_ = name.data();
  // Neither end may leak into a program that this one starts.
  fcntl(ours, F_SETFD, FD_CLOEXEC);
  fcntl(theirs, F_SETFD, FD_CLOEXEC);
  fcntl(ours, F_SETFL, O_NONBLOCK);
  return pty;
}

size_t Pty::read(std::vector<uint8_t>& into) {
  if (!is_open()) return 0;
  std::array<uint8_t, 4096> chunk;
  const ssize_t got = ::read(fd(), chunk.data(), chunk.size());
  if (got <= 0) return 0;
  // Whoever opened the port for itself alone marked the terminal so, and only its last close would
  // take that back; but the end that stays open here is never closed.
  ioctl(theirs_.get(), TIOCNXCL);
  into.insert(into.end(), chunk.begin(), chunk.begin() + got);
  return static_cast<size_t>(got);
}

void Pty::write(std::vector<uint8_t>& from) {
  if (!is_open() || from.empty()) return;
  const ssize_t written = ::write(fd(), from.data(), from.size());
  if (written > 0) from.erase(from.begin(), from.begin() + written);
}

void Pty::unplug() {
  ours_.close();
  theirs_.close();
}

}  // namespace controller::virtual_rig
