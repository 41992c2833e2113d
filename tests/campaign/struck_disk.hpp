// A folder in which writing begins to fail at a chosen moment.
#pragma once

#include <filesystem>
#include <memory>
#include <optional>

#include "protocol/record/file_system.hpp"
#include "tests/campaign/faults.hpp"

namespace tests::campaign {

class StruckDisk final : public protocol::FileSystem {
 public:
  using Path = std::filesystem::path;
  template <class T>
  using Result = protocol::Result<T>;

  // `inner` must outlive the disk.
  explicit StruckDisk(protocol::FileSystem& inner) : inner_(inner) {}

  void fail(DiskFault fault) { fault_ = fault; }

  bool exists(const Path& path) override { return inner_.exists(path); }
  bool is_being_written(const Path& path) override { return inner_.is_being_written(path); }
  Result<std::unique_ptr<protocol::OutputFile>> create(const Path& path) override {
    if (const auto why = new_name()) return *why;
    auto file = inner_.create(path);
    if (!file) return file.error();
    return std::unique_ptr<protocol::OutputFile>(
        std::make_unique<File>(*this, std::move(file).value()));
  }
  Result<void> rename(const Path& from, const Path& to) override {
    const auto why = new_name();
    return why ? Result<void>(*why) : inner_.rename(from, to);
  }
  Result<void> rename_new(const Path& from, const Path& to) override {
    const auto why = new_name();
    return why ? Result<void>(*why) : inner_.rename_new(from, to);
  }
  Result<void> sync_folder(const Path& folder) override { return inner_.sync_folder(folder); }
  Result<void> remove(const Path& path) override { return inner_.remove(path); }
  Result<void> create_folder(const Path& path) override { return inner_.create_folder(path); }

 private:
  class File final : public protocol::OutputFile {
   public:
    File(StruckDisk& owner, std::unique_ptr<protocol::OutputFile> inner)
        : owner_(owner), inner_(std::move(inner)) {}
    Result<void> append(std::string_view bytes) override {
      const auto why = owner_.more_bytes();
      if (!why) return inner_->append(bytes);
      (void)inner_->append(bytes.substr(0, bytes.size() / 2));  // what still found room
      return *why;
    }
    Result<void> sync() override { return inner_->sync(); }

   private:
    StruckDisk& owner_;
    std::unique_ptr<protocol::OutputFile> inner_;
  };

  static protocol::Error no_space() {
    return {protocol::Errc::write_failed, "cannot write: no space left on the test's disk."};
  }
  std::optional<protocol::Error> more_bytes() {
    if (fault_ == DiskFault::full) return no_space();
    if (fault_ != DiskFault::fails_once) return std::nullopt;
    fault_.reset();
    return no_space();
  }
  // A file that is open already can still be written in a folder that has become read-only.
  std::optional<protocol::Error> new_name() const {
    if (fault_ == DiskFault::full) return no_space();
    if (fault_ != DiskFault::read_only) return std::nullopt;
    return protocol::Error{protocol::Errc::write_failed, "cannot create: Permission denied."};
  }

  protocol::FileSystem& inner_;
  std::optional<DiskFault> fault_;
};

}  // namespace tests::campaign
