// How files are written: small durable steps behind an interface, so that a test can make any one
// of them fail.
//
// Nothing here overwrites by accident: create and rename_new refuse a name that is taken, and only
// replace_file is meant to change what is there.
#pragma once

#include <filesystem>
#include <memory>
#include <string>
#include <string_view>

#include "protocol/result.hpp"

namespace protocol {

// A file being written. Closed when destroyed.
class OutputFile {
 public:
  virtual ~OutputFile() = default;
  // Hands all bytes to the operating system. ERRORS: write_failed; what was written before stays.
  virtual Result<void> append(std::string_view bytes) = 0;
  // Returns once the bytes are on the disk.
  virtual Result<void> sync() = 0;
};

class FileSystem {
 public:
  virtual ~FileSystem() = default;
  virtual bool exists(const std::filesystem::path& path) = 0;
  // Whether some process has the file open that it got from create.
  virtual bool is_being_written(const std::filesystem::path& path) = 0;
  // ERRORS: output_exists when the name is taken, write_failed otherwise.
  virtual Result<std::unique_ptr<OutputFile>> create(const std::filesystem::path& path) = 0;
  // Takes the place of `to`, whatever was there, in one step.
  virtual Result<void> rename(const std::filesystem::path& from,
                              const std::filesystem::path& to) = 0;
  // The same, but ERRORS: output_exists when `to` is taken.
  virtual Result<void> rename_new(const std::filesystem::path& from,
                                  const std::filesystem::path& to) = 0;
  // Makes names made or changed in the folder last.
  virtual Result<void> sync_folder(const std::filesystem::path& folder) = 0;
  virtual Result<void> remove(const std::filesystem::path& path) = 0;
  // Does nothing where the folder is there already; parents are made too.
  virtual Result<void> create_folder(const std::filesystem::path& path) = 0;
};

// The disk.
class DiskFileSystem final : public FileSystem {
 public:
  bool exists(const std::filesystem::path& path) override;
  bool is_being_written(const std::filesystem::path& path) override;
  Result<std::unique_ptr<OutputFile>> create(const std::filesystem::path& path) override;
  Result<void> rename(const std::filesystem::path& from, const std::filesystem::path& to) override;
  Result<void> rename_new(const std::filesystem::path& from,
                          const std::filesystem::path& to) override;
  Result<void> sync_folder(const std::filesystem::path& folder) override;
  Result<void> remove(const std::filesystem::path& path) override;
  Result<void> create_folder(const std::filesystem::path& path) override;
};

// The folder that a file stands in; "." for a bare name.
std::filesystem::path folder_of(const std::filesystem::path& path);

// Writes a new file whole, or not at all. ERRORS: output_exists, write_failed.
Result<void> write_new_file(FileSystem& files, const std::filesystem::path& path,
                            std::string_view content);

// Writes a file whole in place of what was there; after a crash the one or the other is found.
Result<void> replace_file(FileSystem& files, const std::filesystem::path& path,
                          std::string_view content);

// The whole of a text file. ERRORS: input_missing (not there, a folder, not readable),
// input_malformed (larger than bytes_max).
Result<std::string> read_text_file(const std::filesystem::path& path, size_t bytes_max);

}  // namespace protocol
