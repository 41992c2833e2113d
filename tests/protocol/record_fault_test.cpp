// Every operation on the disk fails once, in every way a disk or a process can fail.
#include <catch2/catch.hpp>

#include "protocol/record/metadata_json.hpp"
#include "protocol/record/record_edit.hpp"
#include "protocol/record/record_reader.hpp"
#include "protocol/record/record_writer.hpp"
#include "tests/support/failing_file_system.hpp"
#include "tests/support/records.hpp"
#include "tests/support/temporary_folder.hpp"

using namespace protocol;
using test_support::FailingFileSystem;
using test_support::Failure;
using test_support::loop_record;
using test_support::TemporaryFolder;

namespace {

constexpr int kOperationsMax = 100;

bool hidden(const std::string& name) {
  return name[0] == '.';
}

// A sweep as the host writes it; ends at the first failure, as the host then stops the rig.
Result<void> sweep(FileSystem& files, const std::filesystem::path& path) {
  const SweepRecord record = loop_record();
  auto created = RecordWriter::create(files, path, record.metadata, {}, 0.0);
  if (!created) return created.error();
  RecordWriter& writer = *created.value();
  Result<void> done;
  for (size_t i = 0; i < record.size() && done; ++i) {
    done = writer.append({record.time_s[i], record.stroke[i], record.travel_m[i], record.force_N[i],
                          record.raw_steps[i], record.raw_counts[i]},
                         0.0);
  }
  if (done) return writer.close(RecordState::complete);
  (void)writer.close(RecordState::interrupted, done.error().message);
  return done;
}

}  // namespace

TEST_CASE("record: a write that fails leaves nothing of a record written at once",
          "[protocol][fault]") {
  const Failure failure = GENERATE(Failure::once, Failure::disk_full);
  DiskFileSystem disk;
  int failures = 0;
  for (int n = 0;; ++n) {
    REQUIRE(n < kOperationsMax);
    const TemporaryFolder folder;
    FailingFileSystem files(disk, n, failure);
    const Result<void> written = write_record(files, folder / "a.csv", loop_record());
    CAPTURE(n, files.log());
    if (!files.failed()) {
      REQUIRE(written);
      break;
    }
    ++failures;
    REQUIRE_FALSE(written);
    CHECK(written.error().code == Errc::write_failed);
    CHECK(folder.names().empty());
  }
  // Metadata created, written, synced, named; CSV created, begun, filled, synced; metadata again.
  CHECK(failures >= 12);
}

TEST_CASE("record: a sweep that meets a failing disk says so and keeps what it has",
          "[protocol][fault]") {
  const Failure failure = GENERATE(Failure::once, Failure::disk_full);
  DiskFileSystem disk;
  int kept = 0;
  for (int n = 0;; ++n) {
    REQUIRE(n < kOperationsMax);
    const TemporaryFolder folder;
    FailingFileSystem files(disk, n, failure);
    const Result<void> swept = sweep(files, folder / "a.csv");
    CAPTURE(n, files.log());
    if (!files.failed()) {
      REQUIRE(swept);
      break;
    }
    REQUIRE_FALSE(swept);
    CHECK(swept.error().code == Errc::write_failed);
    const Result<SweepRecord> record = load_record(folder / "a.csv");
    if (folder.names().empty()) continue;  // it failed before there was anything to keep
    for (const std::string& name : folder.names()) CHECK_FALSE(hidden(name));
    if (!record) {
      // The header alone was written.
      CHECK(record.error().code == Errc::record_unusable);
      continue;
    }
    ++kept;
    // Only where the folder's last sync failed the record is whole, and says so truly.
    const bool whole = record->metadata.state == RecordState::complete;
    CHECK((!whole || record->size() == 200));
    CHECK(record->metadata.torn_rows <= 1);
    for (size_t i = 0; i < record->size(); ++i) {
      REQUIRE(record->force_N[i] == loop_record().force_N[i]);
    }
  }
  CHECK(kept >= 4);
}

TEST_CASE("record: a crash at any point leaves a record that reads as interrupted, or none",
          "[protocol][fault]") {
  DiskFileSystem disk;
  int interrupted = 0;
  for (int n = 0;; ++n) {
    REQUIRE(n < kOperationsMax);
    const TemporaryFolder folder;
    FailingFileSystem files(disk, n, Failure::crash);
    const Result<void> swept = sweep(files, folder / "a.csv");
    CAPTURE(n, files.log());
    if (!files.failed()) break;
    REQUIRE_FALSE(swept);
    const Result<SweepRecord> record = load_record(folder / "a.csv");
    if (record) {
      const bool whole = record->metadata.state == RecordState::complete;
      CHECK((!whole || record->size() == 200));
      if (!whole) ++interrupted;
    } else {
      const bool nothing = record.error().code == Errc::input_missing ||
                           record.error().code == Errc::record_unusable;
      CHECK(nothing);
    }
    // Whatever was left, the next sweep of the same name never writes over it.
    const std::string before = test_support::read_all(folder / "a.csv");
    (void)write_record(disk, folder / "a.csv", loop_record(20));
    if (!before.empty()) CHECK(test_support::read_all(folder / "a.csv") == before);
  }
  CHECK(interrupted >= 4);
}

TEST_CASE("mark: a failing disk leaves the metadata as it was or as it should be",
          "[protocol][fault]") {
  const Failure failure = GENERATE(Failure::once, Failure::disk_full, Failure::crash);
  DiskFileSystem disk;
  RecordEdit edit;
  edit.remarks = {"second mounting"};
  for (int n = 0;; ++n) {
    REQUIRE(n < kOperationsMax);
    const TemporaryFolder folder;
    REQUIRE(write_record(disk, folder / "a.csv", loop_record()));
    FailingFileSystem files(disk, n, failure);
    const Result<Metadata> marked = edit_record(files, folder / "a.csv", edit);
    CAPTURE(n, files.log());
    const Result<SweepRecord> record = load_record(folder / "a.csv");
    REQUIRE(record);
    CHECK(record->metadata.remarks.size() <= 1);
    if (!files.failed()) {
      REQUIRE(marked);
      CHECK(record->metadata.remarks.size() == 1);
      break;
    }
    CHECK_FALSE(marked);
  }
}
