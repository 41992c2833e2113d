// A pseudo-terminal: a serial port whose cable ends in this process.
#pragma once

#include <cstddef>
#include <cstdint>
#include <string>
#include <vector>

#include "protocol/result.hpp"

namespace controller::virtual_rig {

// Closes what it holds.
class FileDescriptor {
 public:
  FileDescriptor() = default;
  explicit FileDescriptor(int fd) : fd_(fd) {}
  FileDescriptor(FileDescriptor&& other) noexcept : fd_(other.fd_) { other.fd_ = -1; }
  FileDescriptor& operator=(FileDescriptor&& other) noexcept;
  ~FileDescriptor() { close(); }

  int get() const { return fd_; }
  bool is_open() const { return fd_ >= 0; }
  void close();

 private:
  int fd_ = -1;
};

class Pty {
 public:
  // Raw, not blocking on our side. ERRORS: port_missing where the system gives no terminal.
  static protocol::Result<Pty> open();

  const std::string& path() const { return path_; }  // what the host opens
  int fd() const { return ours_.get(); }
  bool is_open() const { return ours_.is_open(); }

  // Appends what has come. RETURNS the number of bytes.
  size_t read(std::vector<uint8_t>& into);
  // Writes what the terminal takes now, and removes it from `from`.
  void write(std::vector<uint8_t>& from);
  // Pulls the cable: the host sees its port vanish.
  void unplug();

 private:
  FileDescriptor ours_;
  // One end of the host's side stays open here: without it the terminal would hang up whenever the
  // host closes its own.
  FileDescriptor theirs_;
  std::string path_;
};

}  // namespace controller::virtual_rig
