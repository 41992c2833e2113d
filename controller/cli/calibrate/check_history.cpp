#include "controller/cli/calibrate/check_history.hpp"

#include <fcntl.h>
#include <fmt/format.h>
#include <unistd.h>

#include <cerrno>
#include <cstring>

#include "controller/cli/descriptor.hpp"
#include "protocol/record/file_system.hpp"

namespace controller::cli {

namespace fs = std::filesystem;

using calibration::CheckHistory;
using calibration::ControlPoint;
using protocol::Errc;
using protocol::Error;
using protocol::Result;

namespace {

constexpr size_t kBytesMax = 64u << 20;

Error failed(const fs::path& path, const char* what) {
  return {Errc::write_failed, fmt::format("{}: {}: {}; the check is not kept.", path.string(), what,
                                          std::strerror(errno))};
}

// What has to stand before the new line: the header in an empty file, a line end after a torn line.
std::string before_new_line(int file) {
  const off_t size = ::lseek(file, 0, SEEK_END);
  if (size <= 0) return calibration::check_history_header();
  char last = '\n';
  if (::pread(file, &last, 1, size - 1) != 1 || last == '\n') return {};
  return "\n";
}

}  // namespace

Result<CheckHistory> load_check_history(const fs::path& path) {
  std::error_code ignored;
  if (!fs::exists(path, ignored)) return CheckHistory{};
  const Result<std::string> text = protocol::read_text_file(path, kBytesMax);
  if (!text) return text.error();
  return calibration::parse_check_history(*text, path.string());
}

Result<void> append_check(const fs::path& path, const ControlPoint& point) {
  protocol::DiskFileSystem disk;
  if (path.has_parent_path()) {
    if (const Result<void> made = disk.create_folder(path.parent_path()); !made) return made;
  }
  const Descriptor file(::open(path.c_str(), O_RDWR | O_CREAT | O_APPEND | O_CLOEXEC, 0644));
  if (file.number() < 0) return failed(path, "cannot be opened");
  const std::string bytes = before_new_line(file.number()) + check_history_line(point);
  // In one call, so that two checks at once do not mix.
  if (::write(file.number(), bytes.data(), bytes.size()) != static_cast<ssize_t>(bytes.size())) {
    return failed(path, "cannot be written in full");
  }
  if (::fsync(file.number()) != 0) return failed(path, "cannot be brought to the disk");
  return {};
}

}  // namespace controller::cli
