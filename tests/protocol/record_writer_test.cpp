// A record on its way to the disk and back: nothing is lost, nothing waits too long, nothing is
// overwritten.
#include <algorithm>
#include <catch2/catch.hpp>
#include <random>

#include "protocol/record/record_reader.hpp"
#include "protocol/record/record_writer.hpp"
#include "tests/support/failing_file_system.hpp"
#include "tests/support/records.hpp"
#include "tests/support/temporary_folder.hpp"

using namespace protocol;
using Catch::Matchers::Contains;
using test_support::loop_record;
using test_support::read_all;
using test_support::TemporaryFolder;

namespace {

RecordRow row_of(const SweepRecord& record, size_t i) {
  return {record.time_s[i],  record.stroke[i],    record.travel_m[i],
          record.force_N[i], record.raw_steps[i], record.raw_counts[i]};
}

std::unique_ptr<RecordWriter> start(FileSystem& files, const std::filesystem::path& path,
                                    double host_now_s = 0.0) {
  auto writer = RecordWriter::create(files, path, loop_record().metadata, {}, host_now_s);
  if (!writer) FAIL(writer.error().message);
  return std::move(writer).value();
}

size_t lines(const std::filesystem::path& path) {
  const std::string text = read_all(path);
  return static_cast<size_t>(std::count(text.begin(), text.end(), '\n'));
}

}  // namespace

TEST_CASE("record: rows survive writing and reading to the last bit", "[protocol]") {
  const TemporaryFolder folder;
  DiskFileSystem files;
  SweepRecord record = loop_record();
  std::mt19937_64 random(20261125);
  std::uniform_real_distribution<double> noise(-1.0, 1.0);
  for (size_t i = 0; i < record.size(); ++i) {
    record.force_N[i] += noise(random);
    record.travel_m[i] += 1e-4 * noise(random);
  }
  REQUIRE(write_record(files, folder / "a.csv", record));
  const Result<SweepRecord> back = load_record(folder / "a.csv");
  if (!back) FAIL(back.error().message);
  CHECK(back->time_s == record.time_s);
  CHECK(back->stroke == record.stroke);
  CHECK(back->force_N == record.force_N);
  CHECK(back->raw_steps == record.raw_steps);
  CHECK(back->raw_counts == record.raw_counts);
  for (size_t i = 0; i < record.size(); ++i) {
    // Because millimetres are printed: one division and one product, each rounded once.
    CHECK(std::abs(back->travel_m[i] - record.travel_m[i]) <= 2.3e-16 * 0.151);
  }
  CHECK(back->metadata.state == RecordState::complete);
  CHECK(back->metadata.torn_rows == 0);
  CHECK(back->metadata.remarks.empty());
  CHECK(folder.names() == std::set<std::string>{"a.csv", "a.csv-metadata.json"});
}

TEST_CASE("record: the CSV file has one header line and plain numbers", "[protocol]") {
  const TemporaryFolder folder;
  DiskFileSystem files;
  auto writer = start(files, folder / "a.csv");
  REQUIRE(writer->append({0.0, 0, 0.0, 12.5, 0, -100000}, 0.0));
  REQUIRE(writer->append({0.01, 0, 0.0123, -0.1, 4920, 1}, 0.0));
  REQUIRE(writer->close(RecordState::complete));
  CHECK(read_all(folder / "a.csv") ==
        "time_s,stroke,travel_mm,force_N,raw_steps,raw_counts\r\n"
        "0,0,0,12.5,0,-100000\r\n"
        "0.01,0,12.3,-0.1,4920,1\r\n");
}

TEST_CASE("record: columns that the source lacks are left out", "[protocol]") {
  const TemporaryFolder folder;
  DiskFileSystem files;
  SweepRecord record = loop_record();
  record.time_s.clear();
  record.stroke.clear();
  record.raw_steps.clear();
  record.raw_counts.clear();
  REQUIRE(write_record(files, folder / "a.csv", record));
  CHECK(read_all(folder / "a.csv").substr(0, 19) == "travel_mm,force_N\r\n");
  const Result<SweepRecord> back = load_record(folder / "a.csv");
  REQUIRE(back);
  CHECK_FALSE(back->has_time());
  CHECK(back->stroke.empty());
  CHECK(back->size() == record.size());
}

TEST_CASE("record: it says running from the start and reads as interrupted until closed",
          "[protocol]") {
  const TemporaryFolder folder;
  DiskFileSystem files;
  const SweepRecord record = loop_record();
  auto writer = start(files, folder / "a.csv");
  CHECK_THAT(read_all(folder / "a.csv-metadata.json"), Contains("\"state\": \"running\""));
  for (size_t i = 0; i < 150; ++i) REQUIRE(writer->append(row_of(record, i), 0.0));
  const Result<SweepRecord> open = load_record(folder / "a.csv");
  REQUIRE(open);
  CHECK(open->metadata.state == RecordState::interrupted);
  CHECK_THAT(open->metadata.state_reason, Contains("never closed"));
  writer->metadata().counters.frames = 151;
  REQUIRE(writer->close(RecordState::interrupted, "stopped by the operator"));
  const Result<SweepRecord> closed = load_record(folder / "a.csv");
  REQUIRE(closed);
  CHECK(closed->size() == 150);
  CHECK(closed->metadata.state == RecordState::interrupted);
  CHECK(closed->metadata.state_reason == "stopped by the operator");
  CHECK(closed->metadata.counters.frames == 151);
}

TEST_CASE("record: rows reach the disk every second of their own time", "[protocol]") {
  const TemporaryFolder folder;
  DiskFileSystem files;
  auto writer = start(files, folder / "a.csv");
  for (int i = 0; i < 1000; ++i) {
    const double time_s = 0.01 * i;
    REQUIRE(writer->append({time_s, 0, 1e-5 * i, 100.0, i, i}, 0.0));
    // Of i + 1 rows at most the last second's hundred wait.
    REQUIRE(lines(folder / "a.csv") + 100 >= static_cast<size_t>(i) + 2);
  }
}

TEST_CASE("record: rows reach the disk every second of the host's time", "[protocol]") {
  const TemporaryFolder folder;
  DiskFileSystem files;
  auto writer = start(files, folder / "a.csv", 50.0);
  REQUIRE(writer->append({0.0, 0, 0.0, 100.0, 0, 0}, 50.1));
  REQUIRE(writer->tick(50.9));
  CHECK(lines(folder / "a.csv") == 1);
  REQUIRE(writer->tick(51.0));
  CHECK(lines(folder / "a.csv") == 2);
  REQUIRE(writer->append({0.0, 0, 0.0, 100.0, 0, 0}, 51.5));
  CHECK(lines(folder / "a.csv") == 2);
  REQUIRE(writer->append({0.0, 0, 0.0, 100.0, 0, 0}, 52.0));
  CHECK(lines(folder / "a.csv") == 4);
}

TEST_CASE("record: the end of a stroke syncs its rows before the next one begins", "[protocol]") {
  const TemporaryFolder folder;
  DiskFileSystem disk;
  test_support::FailingFileSystem files(disk, -1, test_support::Failure::once);
  const SweepRecord record = loop_record();
  auto writer = start(files, folder / "a.csv");
  for (size_t i = 0; i < 100; ++i) REQUIRE(writer->append(row_of(record, i), 0.0));
  const size_t before = files.log().size();
  REQUIRE(writer->append(row_of(record, 100), 0.0));  // the first row of stroke 1
  REQUIRE(files.log().size() == before + 2);
  CHECK(files.log()[before] == "append");
  CHECK(files.log()[before + 1] == "sync");
  CHECK(lines(folder / "a.csv") == 101);
}

TEST_CASE("record: nothing is overwritten", "[protocol]") {
  const TemporaryFolder folder;
  DiskFileSystem files;
  const auto refused = [&](const char* taken) {
    test_support::write_all(folder / taken, "mine");
    const Result<void> written = write_record(files, folder / "a.csv", loop_record());
    REQUIRE_FALSE(written);
    CHECK(written.error().code == Errc::output_exists);
    CHECK_THAT(written.error().message, Contains(taken));
    CHECK(read_all(folder / taken) == "mine");
    CHECK(folder.names() == std::set<std::string>{taken});
    std::filesystem::remove(folder / taken);
  };
  refused("a.csv");
  refused("a.csv-metadata.json");
}

TEST_CASE("record: a name that is no CSV file's, and a folder that is not there, are refused",
          "[protocol]") {
  const TemporaryFolder folder;
  DiskFileSystem files;
  const Result<void> named = write_record(files, folder / "a.txt", loop_record());
  REQUIRE_FALSE(named);
  CHECK(named.error().code == Errc::usage);
  const Result<void> placed = write_record(files, folder / "none/a.csv", loop_record());
  REQUIRE_FALSE(placed);
  CHECK(placed.error().code == Errc::write_failed);
  CHECK_THAT(placed.error().message, Contains("none/a.csv") && Contains("Does its folder exist?"));
  CHECK(folder.names().empty());
}

TEST_CASE("files: a new file is written whole or not, and a replaced one keeps its name",
          "[protocol]") {
  const TemporaryFolder folder;
  DiskFileSystem files;
  REQUIRE(write_new_file(files, folder / "a", "one"));
  const Result<void> again = write_new_file(files, folder / "a", "two");
  REQUIRE_FALSE(again);
  CHECK(again.error().code == Errc::output_exists);
  CHECK(read_all(folder / "a") == "one");
  REQUIRE(replace_file(files, folder / "a", "three"));
  CHECK(read_all(folder / "a") == "three");
  CHECK(folder.names() == std::set<std::string>{"a"});
  // Also one that came between looking and renaming is kept.
  test_support::write_all(folder / "from", "new");
  const Result<void> late = files.rename_new(folder / "from", folder / "a");
  REQUIRE_FALSE(late);
  CHECK(late.error().code == Errc::output_exists);
  CHECK(read_all(folder / "a") == "three");
}
