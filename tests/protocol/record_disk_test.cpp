// The disk itself, where it refuses: every step of the file system says what it could not do, and
// to which file.
#include <sys/resource.h>

#include <catch2/catch.hpp>
#include <csignal>

#include "protocol/record/file_system.hpp"
#include "tests/support/temporary_folder.hpp"

using namespace protocol;
using Catch::Matchers::Contains;
using test_support::read_all;
using test_support::TemporaryFolder;
using test_support::write_all;

namespace {

// Writing beyond so many bytes fails, as on a full disk, until it is destroyed.
class FileSizeLimit {
 public:
  explicit FileSizeLimit(rlim_t bytes) : handler_(std::signal(SIGXFSZ, SIG_IGN)) {
    getrlimit(RLIMIT_FSIZE, &before_);
    const rlimit limit{bytes, before_.rlim_max};
    setrlimit(RLIMIT_FSIZE, &limit);
  }
  ~FileSizeLimit() {
    setrlimit(RLIMIT_FSIZE, &before_);
    std::signal(SIGXFSZ, handler_);
  }

 private:
  void (*handler_)(int);
  rlimit before_{};
};

template <class T>
void check_refused(const Result<T>& result, Errc code, const std::string& words) {
  REQUIRE_FALSE(result.has_value());
  CHECK(result.error().code == code);
  CHECK_THAT(result.error().message, Contains(words));
}

}  // namespace

TEST_CASE("disk: each step that cannot be done names the file and the reason", "[protocol]") {
  const TemporaryFolder folder;
  DiskFileSystem disk;
  const auto nowhere = folder / "not_there" / "a.csv";
  const auto file = folder / "a.csv";
  write_all(file, "rows");
  check_refused(disk.create(nowhere), Errc::write_failed, "Does its folder exist?");
  check_refused(disk.create(file), Errc::output_exists, "not overwritten");
  check_refused(disk.rename(folder / "missing", file), Errc::write_failed, file.string());
  check_refused(disk.rename_new(folder / "missing", folder / "b"), Errc::write_failed, "b'");
  write_all(folder / "c", "new");
  check_refused(disk.rename_new(folder / "c", file), Errc::output_exists, file.string());
  check_refused(disk.sync_folder(folder / "missing"), Errc::write_failed, "open the folder");
  check_refused(disk.remove(folder / "missing"), Errc::write_failed, "remove");
  check_refused(disk.create_folder(file / "below"), Errc::write_failed, "make the folder");
  CHECK(read_all(file) == "rows");
  CHECK(disk.create_folder(folder / "deep" / "er"));
  CHECK_FALSE(disk.is_being_written(folder / "missing"));
  CHECK(folder_of("a.csv") == std::filesystem::path("."));
}

TEST_CASE("disk: a file that is open counts as being written", "[protocol]") {
  const TemporaryFolder folder;
  DiskFileSystem disk;
  auto file = disk.create(folder / "a.csv");
  REQUIRE(file);
  CHECK(disk.is_being_written(folder / "a.csv"));
  file->reset();
  CHECK_FALSE(disk.is_being_written(folder / "a.csv"));
}

TEST_CASE("disk: a file that finds no more room keeps what it has and says so", "[protocol]") {
  const TemporaryFolder folder;
  DiskFileSystem disk;
  auto file = disk.create(folder / "a.csv");
  REQUIRE(file);
  {
    const FileSizeLimit limit(10);
    check_refused((*file)->append("twelve bytes"), Errc::write_failed, "a.csv");
    check_refused(write_new_file(disk, folder / "b", std::string(100, 'b')), Errc::write_failed,
                  "write");
    check_refused(replace_file(disk, folder / "a.csv", std::string(100, 'b')), Errc::write_failed,
                  "write");
  }
  file->reset();
  CHECK(read_all(folder / "a.csv") == "twelve byt");
  CHECK(folder.names() == std::set<std::string>{"a.csv"});
}

TEST_CASE("disk: a new file is written whole, beside what a crash left, and never over another",
          "[protocol]") {
  const TemporaryFolder folder;
  DiskFileSystem disk;
  // A crash of this very process number left its temporary files behind.
  const auto left = folder / (".a.csv." + std::to_string(::getpid()) + "-0.new");
  write_all(left, "left");
  REQUIRE(write_new_file(disk, folder / "a.csv", "whole"));
  CHECK(read_all(folder / "a.csv") == "whole");
  check_refused(write_new_file(disk, folder / "a.csv", "other"), Errc::output_exists, "a.csv");
  check_refused(write_new_file(disk, folder / "not_there" / "a.csv", "x"), Errc::write_failed,
                "not_there/a.csv'");
  REQUIRE(replace_file(disk, folder / "a.csv", "newer"));
  CHECK(read_all(folder / "a.csv") == "newer");
  check_refused(replace_file(disk, folder / "not_there" / "a.csv", "x"), Errc::write_failed,
                "not_there");
  CHECK(read_all(left) == "left");
}

TEST_CASE("disk: what cannot be read as a text is refused", "[protocol]") {
  const TemporaryFolder folder;
  write_all(folder / "large", std::string(100, 'x'));
  check_refused(read_text_file(folder / "missing", 10), Errc::input_missing, "cannot open");
  check_refused(read_text_file(folder.path(), 10), Errc::input_missing, "cannot read");
  check_refused(read_text_file(folder / "large", 99), Errc::input_malformed, "larger than the 99");
  CHECK(read_text_file(folder / "large", 100)->size() == 100);
}
