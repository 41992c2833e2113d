// A report on disk: all of it, or nothing.
#include <unistd.h>

#include <catch2/catch.hpp>
#include <filesystem>
#include <fstream>

#include "controller/cli/report_folder.hpp"
#include "page_check.hpp"

using namespace fitting;
using controller::cli::check_report_folder;
using controller::cli::write_report;
using protocol::Errc;
using protocol::Error;
using protocol::Result;

namespace fs = std::filesystem;

namespace {

Report small_report() {
  Figure figure;
  figure.name = "loop";
  figure.title = "A line";
  figure.alt = "A line that rises from nothing at full extension to one newton.";
  figure.x = {"Travel", "mm"};
  figure.panels = {{{"Force", "N"}, {Line{"Larch", Tone::first, {0, 1}, {0, 1}}}}};
  Table table{"numbers", "Numbers", {{"What", ColumnKind::text}, {"N"}}, {{"force", "1"}}};
  Report report;
  report.title = "Small";
  report.summary = {{"It rises.", "loops"}};
  report.sections = {{"loops", "Loops", {figure, table}}};
  return report;
}

// A folder of its own, gone when the test is.
struct Scratch {
  fs::path path = fs::temp_directory_path() / ("springwright-report-" + std::to_string(::getpid()));

  Scratch() { fs::remove_all(path); }
  ~Scratch() { fs::remove_all(path); }

  std::size_t files() const {
    std::size_t count = 0;
    if (!fs::exists(path)) return 0;
    for (const auto& each : fs::recursive_directory_iterator(path)) {
      count += each.is_regular_file() ? 1 : 0;
    }
    return count;
  }
};

// The disk, which fills up when the n-th file is made.
class FullDisk : public protocol::FileSystem {
 public:
  explicit FullDisk(int files_that_fit) : left_(files_that_fit) {}

  bool exists(const fs::path& path) override { return disk_.exists(path); }
  bool is_being_written(const fs::path& path) override { return disk_.is_being_written(path); }
  Result<std::unique_ptr<protocol::OutputFile>> create(const fs::path& path) override {
    if (left_-- <= 0) return Error{Errc::write_failed, "no space left on device"};
    return disk_.create(path);
  }
  Result<void> rename(const fs::path& from, const fs::path& to) override {
    return disk_.rename(from, to);
  }
  Result<void> rename_new(const fs::path& from, const fs::path& to) override {
    return disk_.rename_new(from, to);
  }
  Result<void> sync_folder(const fs::path& folder) override { return disk_.sync_folder(folder); }
  Result<void> remove(const fs::path& path) override { return disk_.remove(path); }
  Result<void> create_folder(const fs::path& path) override { return disk_.create_folder(path); }

 private:
  protocol::DiskFileSystem disk_;
  int left_;
};

// Three drawings, two tables of data, one JSON text, one page.
constexpr int kFiles = 7;

}  // namespace

TEST_CASE("report folder: page, figures in three formats, and data are written", "[fit]") {
  const Scratch scratch;
  protocol::DiskFileSystem files;
  const auto page = write_report(files, small_report(), scratch.path);
  REQUIRE(page);
  CHECK(*page == scratch.path / "report.html");
  for (const char* name :
       {"report.html", "figures/loop.svg", "figures/loop.png", "figures/loop.pdf", "data/loop.csv",
        "data/numbers.csv", "data/report.json"}) {
    CAPTURE(name);
    CHECK(fs::file_size(scratch.path / name) > 0);
  }
  CHECK(scratch.files() == kFiles);
  std::ifstream file(*page, std::ios::binary);
  const std::string text{std::istreambuf_iterator<char>(file), {}};
  CHECK(tests::check_file("page", text) == "");
}

TEST_CASE("report folder: a report that is there is never overwritten", "[fit]") {
  const Scratch scratch;
  protocol::DiskFileSystem files;
  fs::create_directories(scratch.path / "figures");
  const char* name = GENERATE("report.html", "figures/loop.png");
  std::ofstream(scratch.path / name) << "mine";
  const auto page = write_report(files, small_report(), scratch.path);
  REQUIRE_FALSE(page);
  CHECK(page.error().code == Errc::output_exists);
  CHECK_THAT(page.error().message, Catch::Matchers::Contains(name));
  CHECK(scratch.files() == 1);
  CHECK(fs::file_size(scratch.path / name) == 4);
}

TEST_CASE("report folder: a folder that holds something else may be used", "[fit]") {
  const Scratch scratch;
  protocol::DiskFileSystem files;
  fs::create_directories(scratch.path);
  std::ofstream(scratch.path / "notes.txt") << "mine";
  CHECK(check_report_folder(files, scratch.path).has_value());
  CHECK(write_report(files, small_report(), scratch.path).has_value());
  CHECK(scratch.files() == kFiles + 1);
}

TEST_CASE("report folder: wherever the disk fills up, nothing is left half-made", "[fit][fault]") {
  const int files_that_fit = GENERATE(range(0, kFiles));
  CAPTURE(files_that_fit);
  const Scratch scratch;
  FullDisk files(files_that_fit);
  const auto page = write_report(files, small_report(), scratch.path);
  REQUIRE_FALSE(page);
  CHECK(page.error().code == Errc::write_failed);
  CHECK(scratch.files() == 0);
  CHECK_FALSE(fs::exists(scratch.path));
}
