// A disk whose n-th operation fails, for every n: how writers behave when it does.
#pragma once

#include <memory>
#include <string>
#include <string_view>
#include <vector>

#include "protocol/record/file_system.hpp"

namespace test_support {

enum class Failure {
  once,       // that operation alone
  disk_full,  // from then on nothing can be written, but files can still be removed
  crash,      // from then on nothing happens at all, as if the process were gone
};

class FailingFileSystem final : public protocol::FileSystem {
 public:
  using Path = std::filesystem::path;

  // Counts from 0; a negative `fail_at` never fails.
  FailingFileSystem(protocol::FileSystem& inner, int fail_at, Failure failure)
      : inner_(inner), fail_at_(fail_at), failure_(failure) {}

  int operations() const { return count_; }
  bool failed() const { return fail_at_ >= 0 && count_ > fail_at_; }
  // Every operation in its order: "append", "sync" ...
  const std::vector<std::string>& log() const { return log_; }

  bool exists(const Path& path) override { return inner_.exists(path); }
  bool is_being_written(const Path& path) override { return inner_.is_being_written(path); }

  protocol::Result<std::unique_ptr<protocol::OutputFile>> create(const Path& path) override {
    if (fails("create")) return error();
    auto file = inner_.create(path);
    if (!file) return file.error();
    return std::unique_ptr<protocol::OutputFile>(
        std::make_unique<File>(*this, std::move(file).value()));
  }
  protocol::Result<void> rename(const Path& from, const Path& to) override {
    if (fails("rename")) return error();
    return inner_.rename(from, to);
  }
  protocol::Result<void> rename_new(const Path& from, const Path& to) override {
    if (fails("rename_new")) return error();
    return inner_.rename_new(from, to);
  }
  protocol::Result<void> sync_folder(const Path& folder) override {
    if (fails("sync_folder")) return error();
    return inner_.sync_folder(folder);
  }
  protocol::Result<void> remove(const Path& path) override {
    if (fails("remove", failure_ == Failure::disk_full)) return error();
    return inner_.remove(path);
  }
  protocol::Result<void> create_folder(const Path& path) override {
    if (fails("create_folder")) return error();
    return inner_.create_folder(path);
  }

 private:
  class File final : public protocol::OutputFile {
   public:
    File(FailingFileSystem& owner, std::unique_ptr<protocol::OutputFile> inner)
        : owner_(owner), inner_(std::move(inner)) {}
    protocol::Result<void> append(std::string_view bytes) override {
      const bool was_failed = owner_.failed();
      if (!owner_.fails("append")) return inner_->append(bytes);
      // The write that meets the failure gets half way; later ones do not begin.
      if (!was_failed) (void)inner_->append(bytes.substr(0, bytes.size() / 2));
      return error();
    }
    protocol::Result<void> sync() override {
      if (owner_.fails("sync")) return error();
      return inner_->sync();
    }

   private:
    FailingFileSystem& owner_;
    std::unique_ptr<protocol::OutputFile> inner_;
  };

  bool fails(const char* operation, bool spared = false) {
    log_.emplace_back(operation);
    const int index = count_++;
    if (fail_at_ < 0 || index < fail_at_ || spared) return false;
    return index == fail_at_ || failure_ != Failure::once;
  }
  static protocol::Error error() {
    return {protocol::Errc::write_failed, "no space left on the test's disk."};
  }

  protocol::FileSystem& inner_;
  int fail_at_;
  Failure failure_;
  int count_ = 0;
  std::vector<std::string> log_;
};

}  // namespace test_support
