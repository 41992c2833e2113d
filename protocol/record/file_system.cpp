#include "protocol/record/file_system.hpp"

#include <fcntl.h>
#include <fmt/format.h>
#include <linux/fs.h>
#include <sys/file.h>
#include <sys/stat.h>
#include <unistd.h>

#include <cerrno>
#include <cstdio>
#include <cstring>
#include <system_error>

namespace protocol {
namespace {

using Path = std::filesystem::path;

constexpr mode_t kFileMode = 0666;  // the user's umask takes away from it

Error cannot(const char* what, const Path& path, int number) {
  const char* hint = number == ENOSPC || number == EDQUOT ? " Make room on the disk and try again."
                     : number == ENOENT                   ? " Does its folder exist?"
                                                          : "";
  return Error{Errc::write_failed, fmt::format("cannot {} '{}': {}.{}", what, path.string(),
                                               std::strerror(number), hint)};
}

Error taken(const Path& path) {
  return Error{Errc::output_exists,
               fmt::format("'{}' is there already and is not overwritten; choose another name.",
                           path.string())};
}

class DiskFile final : public OutputFile {
 public:
  DiskFile(int descriptor, Path path) : descriptor_(descriptor), path_(std::move(path)) {}
  ~DiskFile() override { ::close(descriptor_); }
  DiskFile(const DiskFile&) = delete;
  DiskFile& operator=(const DiskFile&) = delete;

  Result<void> append(std::string_view bytes) override {
    while (!bytes.empty()) {
      const ssize_t written = ::write(descriptor_, bytes.data(), bytes.size());
      if (written < 0 && errno == EINTR) continue;
      if (written < 0) return cannot("write", path_, errno);
      bytes.remove_prefix(static_cast<size_t>(written));
    }
    return {};
  }

  Result<void> sync() override {
    // Some files, such as pipes, cannot be synced; there is nothing to wait for then.
    if (::fsync(descriptor_) != 0 && errno != EINVAL && errno != EROFS) {
      return cannot("write", path_, errno);
    }
    return {};
  }

 private:
  int descriptor_;
  Path path_;
};

struct TemporaryFile {
  Path path;
  std::unique_ptr<OutputFile> file;
};

// A new hidden file beside `path`. A crash may have left some behind, so a few names are tried.
Result<TemporaryFile> create_temporary(FileSystem& files, const Path& path) {
  constexpr int kTries = 16;
  for (int attempt = 0;; ++attempt) {
    TemporaryFile temporary;
    temporary.path = folder_of(path) /
                     fmt::format(".{}.{}-{}.new", path.filename().string(), ::getpid(), attempt);
    Result<std::unique_ptr<OutputFile>> file = files.create(temporary.path);
    if (file) {
      temporary.file = std::move(file).value();
      return temporary;
    }
    if (file.error().code == Errc::output_exists && attempt < kTries) continue;
    // The user knows the file by its own name.
    Error error = file.error();
    const size_t start = error.message.find(temporary.path.string());
    if (start != std::string::npos) {
      error.message.replace(start, temporary.path.string().size(), path.string());
    }
    return error;
  }
}

// Writes the content durably under a temporary name, then lets `publish` give it its own.
template <class Publish>
Result<void> write_then(FileSystem& files, const Path& path, std::string_view content,
                        Publish publish) {
  Result<TemporaryFile> temporary = create_temporary(files, path);
  if (!temporary) return temporary.error();
  Result<void> result = temporary->file->append(content);
  if (result) result = temporary->file->sync();
  temporary->file.reset();
  if (result) result = publish(temporary->path);
  if (!result) (void)files.remove(temporary->path);
  return result;
}

}  // namespace

bool DiskFileSystem::exists(const Path& path) {
  struct stat status {};
  return ::lstat(path.c_str(), &status) == 0;
}

bool DiskFileSystem::is_being_written(const Path& path) {
  const int descriptor = ::open(path.c_str(), O_RDONLY | O_CLOEXEC);
  if (descriptor < 0) return false;
  const bool locked = ::flock(descriptor, LOCK_SH | LOCK_NB) != 0 && errno == EWOULDBLOCK;
  ::close(descriptor);
  return locked;
}

Result<std::unique_ptr<OutputFile>> DiskFileSystem::create(const Path& path) {
  const int descriptor = ::open(path.c_str(), O_WRONLY | O_CREAT | O_EXCL | O_CLOEXEC, kFileMode);
  if (descriptor < 0) return errno == EEXIST ? taken(path) : cannot("create", path, errno);
  // Only a sign for is_being_written; the kernel takes it away however the process ends.
  (void)::flock(descriptor, LOCK_EX | LOCK_NB);
  return std::unique_ptr<OutputFile>(std::make_unique<DiskFile>(descriptor, path));
}

Result<void> DiskFileSystem::rename(const Path& from, const Path& to) {
  if (std::rename(from.c_str(), to.c_str()) != 0) return cannot("replace", to, errno);
  return {};
}

Result<void> DiskFileSystem::rename_new(const Path& from, const Path& to) {
  if (::renameat2(AT_FDCWD, from.c_str(), AT_FDCWD, to.c_str(), RENAME_NOREPLACE) == 0) return {};
  if (errno == EEXIST) return taken(to);
  if (errno != EINVAL && errno != ENOSYS) return cannot("create", to, errno);
  // Not every file system knows the flag; a second name refuses a taken one as well.
  if (::link(from.c_str(), to.c_str()) != 0) {
    return errno == EEXIST ? taken(to) : cannot("create", to, errno);
  }
  return remove(from);
}

Result<void> DiskFileSystem::sync_folder(const Path& folder) {
  const int descriptor = ::open(folder.c_str(), O_RDONLY | O_DIRECTORY | O_CLOEXEC);
  if (descriptor < 0) return cannot("open the folder", folder, errno);
  const bool synced = ::fsync(descriptor) == 0 || errno == EINVAL || errno == EROFS;
  const int number = errno;
  ::close(descriptor);
  if (!synced) return cannot("write the folder", folder, number);
  return {};
}

Result<void> DiskFileSystem::remove(const Path& path) {
  if (::unlink(path.c_str()) != 0) return cannot("remove", path, errno);
  return {};
}

Result<void> DiskFileSystem::create_folder(const Path& path) {
  std::error_code code;
  std::filesystem::create_directories(path, code);
  if (code) return cannot("make the folder", path, code.value());
  return {};
}

Path folder_of(const Path& path) {
  return path.has_parent_path() ? path.parent_path() : Path(".");
}

Result<void> write_new_file(FileSystem& files, const Path& path, std::string_view content) {
  if (files.exists(path)) return taken(path);
  Result<void> done = write_then(files, path, content, [&](const Path& temporary) {
    return files.rename_new(temporary, path);
  });
  if (!done) return done;
  done = files.sync_folder(folder_of(path));
  if (!done) (void)files.remove(path);
  return done;
}

Result<void> replace_file(FileSystem& files, const Path& path, std::string_view content) {
  const Result<void> done = write_then(
      files, path, content, [&](const Path& temporary) { return files.rename(temporary, path); });
  if (!done) return done.error();
  return files.sync_folder(folder_of(path));
}

Result<std::string> read_text_file(const Path& path, size_t bytes_max) {
  const int descriptor = ::open(path.c_str(), O_RDONLY | O_CLOEXEC);
  if (descriptor < 0) {
    return Error{Errc::input_missing,
                 fmt::format("cannot open '{}': {}.", path.string(), std::strerror(errno))};
  }
  std::string text;
  std::string block(65536, '\0');
  ssize_t got = 0;
  do {
    got = ::read(descriptor, block.data(), block.size());
    if (got > 0) text.append(block, 0, static_cast<size_t>(got));
  } while ((got > 0 && text.size() <= bytes_max) || (got < 0 && errno == EINTR));
  const int number = errno;
  ::close(descriptor);
  if (got < 0) {
    return Error{Errc::input_missing,
                 fmt::format("cannot read '{}': {}.", path.string(), std::strerror(number))};
  }
  if (text.size() > bytes_max) {
    return Error{Errc::input_malformed, fmt::format("'{}' is larger than the {} bytes that such a "
                                                    "file may have.",
                                                    path.string(), bytes_max)};
  }
  return text;
}

}  // namespace protocol
