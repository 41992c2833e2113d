// A report on disk: all of it, or nothing.
#include <unistd.h>

#include <catch2/catch.hpp>
#include <filesystem>
#include <fstream>

#include "controller/cli/answers/report_folder.hpp"
#include "tests/fitting/page_check.hpp"
#include "tests/support/failing_file_system.hpp"

using namespace fitting;
using controller::cli::check_report_folder;
using controller::cli::write_report;
using protocol::Errc;

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
  // Each of the first file's steps, then one within each later file, then the page's last.
  const int fail_at = GENERATE(0, 1, 2, 3, 4, 5, 6, 7, 12, 17, 22, 27, 32, 37);
  CAPTURE(fail_at);
  const Scratch scratch;
  protocol::DiskFileSystem disk;
  test_support::FailingFileSystem files(disk, fail_at, test_support::Failure::disk_full);
  const auto page = write_report(files, small_report(), scratch.path);
  CAPTURE(files.log());
  REQUIRE_FALSE(page);
  CHECK(page.error().code == Errc::write_failed);
  CHECK(scratch.files() == 0);
  CHECK_FALSE(fs::exists(scratch.path));
}

TEST_CASE("report folder: a disk that never fills up takes as many steps as were tried",
          "[fit][fault]") {
  const Scratch scratch;
  protocol::DiskFileSystem disk;
  test_support::FailingFileSystem files(disk, -1, test_support::Failure::disk_full);
  REQUIRE(write_report(files, small_report(), scratch.path));
  CHECK(files.operations() == 3 + kFiles * 5);
}
