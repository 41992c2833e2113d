// Records as crashes, disks and people leave them.
#include <catch2/catch.hpp>

#include "protocol/record/metadata_json.hpp"
#include "protocol/record/record_edit.hpp"
#include "protocol/record/record_reader.hpp"
#include "protocol/record/record_writer.hpp"
#include "tests/support/records.hpp"
#include "tests/support/temporary_folder.hpp"

using namespace protocol;
using Catch::Matchers::Contains;
using Catch::Matchers::StartsWith;
using test_support::read_all;
using test_support::TemporaryFolder;
using test_support::write_all;

namespace {

// A folder with one finished record in it.
struct OneRecord {
  OneRecord() { REQUIRE(write_record(files, path, test_support::loop_record())); }
  std::string refusal() const {
    const Result<SweepRecord> record = load_record(path);
    return record ? "not refused" : record.error().message;
  }
  // The CSV file's `line` (from 1), without its end, becomes `text`.
  void change_line(int line, const std::string& text) const {
    std::string csv = read_all(path);
    size_t begin = 0;
    for (int i = 1; i < line; ++i) begin = csv.find('\n', begin) + 1;
    csv.replace(begin, csv.find("\r\n", begin) - begin, text);
    write_all(path, csv);
  }

  TemporaryFolder folder;
  DiskFileSystem files;
  std::filesystem::path path = folder / "a.csv";
};

}  // namespace

TEST_CASE("record: a torn last line is dropped and counted, wherever it tore", "[protocol]") {
  const OneRecord one;
  const std::string whole = read_all(one.path);
  const size_t last_line = whole.rfind('\n', whole.size() - 2) + 1;
  for (size_t length = last_line; length < whole.size(); ++length) {
    CAPTURE(length);
    write_all(one.path, whole.substr(0, length));
    const Result<SweepRecord> record = load_record(one.path);
    if (!record) FAIL(record.error().message);
    CHECK(record->size() == 199);
    CHECK(record->metadata.torn_rows == (length == last_line ? 0 : 1));
    // Closing noted 200 rows.
    CHECK(record->metadata.state == RecordState::interrupted);
    CHECK_THAT(record->metadata.state_reason, Contains("199 of the 200 rows"));
  }
}

TEST_CASE("record: zeros that a crash left at the end are a torn line", "[protocol]") {
  const OneRecord one;
  write_all(one.path, read_all(one.path) + std::string(512, '\0'));
  const Result<SweepRecord> record = load_record(one.path);
  REQUIRE(record);
  CHECK(record->size() == 200);
  CHECK(record->metadata.torn_rows == 1);
}

TEST_CASE("record: damage before the last line is refused with its place", "[protocol]") {
  const OneRecord one;
  const std::string path = one.path.string();
  struct Row {
    int line;
    const char* text;
    const char* place;
    const char* says;
  };
  const auto row = GENERATE(values<Row>({
      {50, "0.48,0,7x,100,1,2", ":50:8: ", "'7x' is not a number for travel_mm"},
      {50, "0.48,0,7", ":50:8: ", "3 fields, where the header has 6"},
      {50, "", ":50:1: ", "1 fields"},
      {50, "0.48,0,nan,100,1,2", ":50:8: ", "'nan'"},
      {50, "0.48,0,7,,1,2", ":50:10: ", "'' is not a number for force_N"},
      {50, "0.48,0.5,7,1,1,2", ":50:6: ", "'0.5' is not a number for stroke"},
      {50, "0.01,0,7,1,1,2", ":50:1: ", "time goes back"},
      {50, "0.48,0,7,1,1,2,3", ":50:16: ", "7 fields"},
      {1, "time_s,stroke,travel_in,force_N,raw_steps,raw_counts", ":1:15: ", "the header is not"},
      {1, "time_s,stroke,travel_mm", ":1:15: ", "the header is not"},
  }));
  CAPTURE(row.text);
  one.change_line(row.line, row.text);
  CHECK_THAT(one.refusal(), StartsWith(path + row.place) && Contains(row.says));
}

TEST_CASE("record: a changed row is remarked, not refused", "[protocol]") {
  const OneRecord one;
  one.change_line(50, "0.48,0,7.5,100,1,2");
  const Result<SweepRecord> record = load_record(one.path);
  REQUIRE(record);
  CHECK(record->metadata.state == RecordState::complete);
  REQUIRE(record->metadata.remarks.size() == 1);
  CHECK_THAT(record->metadata.remarks[0], Contains("changed after the record was closed"));
}

TEST_CASE("record: a missing half is named", "[protocol]") {
  const OneRecord one;
  std::filesystem::remove(one.folder / "a.csv-metadata.json");
  CHECK_THAT(one.refusal(), Contains("a.csv-metadata.json") && Contains("springwright import"));
  REQUIRE(load_record(one.path).error().code == Errc::input_missing);
  const Result<SweepRecord> none = load_record(one.folder / "none.csv");
  REQUIRE_FALSE(none);
  CHECK(none.error().code == Errc::input_missing);
  CHECK_THAT(none.error().message, Contains("none.csv"));
}

TEST_CASE("record: without a single whole row it cannot be used", "[protocol]") {
  const OneRecord one;
  for (const char* text :
       {"", "time_s,str", "time_s,stroke,travel_mm,force_N,raw_steps,raw_counts\r\n",
        "time_s,stroke,travel_mm,force_N,raw_steps,raw_counts\r\n0,0,0"}) {
    write_all(one.path, text);
    const Result<SweepRecord> record = load_record(one.path);
    REQUIRE_FALSE(record);
    CHECK(record.error().code == Errc::record_unusable);
    CHECK_THAT(record.error().message, Contains("has no rows"));
  }
}

TEST_CASE("mark: remarks and verdicts change the metadata alone", "[protocol]") {
  OneRecord one;
  const std::string csv = read_all(one.path);
  // What others added around our object stays.
  std::string text = read_all(metadata_path(one.path));
  text.insert(text.find('{') + 1, "\"dc:title\": \"A sweep\",");
  write_all(metadata_path(one.path), text);

  RecordEdit edit;
  edit.remarks = {"second mounting"};
  edit.unusable_reason = "the clamp slipped";
  const Result<Metadata> marked = edit_record(one.files, one.path, edit);
  if (!marked) FAIL(marked.error().message);
  CHECK(marked->remarks == std::vector<std::string>{"second mounting"});
  CHECK_THAT(one.refusal(), Contains("marked unusable: the clamp slipped") && Contains("--usable"));
  CHECK(load_record(one.path).error().code == Errc::record_unusable);
  CHECK(load_record(one.path, UnusableRecords::accept));
  CHECK(read_all(one.path) == csv);
  CHECK_THAT(read_all(metadata_path(one.path)), Contains("A sweep"));

  RecordEdit back;
  back.usable = true;
  REQUIRE(edit_record(one.files, one.path, back));
  const Result<SweepRecord> record = load_record(one.path);
  REQUIRE(record);
  CHECK(record->metadata.remarks == std::vector<std::string>{"second mounting"});
  CHECK(record->metadata.state == RecordState::complete);
  CHECK(one.folder.names() == std::set<std::string>{"a.csv", "a.csv-metadata.json"});
}

TEST_CASE("mark: what cannot be marked is refused and stays", "[protocol]") {
  OneRecord one;
  const std::string before = read_all(metadata_path(one.path));
  RecordEdit empty;
  empty.unusable_reason = " ";
  CHECK(edit_record(one.files, one.path, empty).error().code == Errc::usage);
  RecordEdit edit;
  edit.remarks = {"x"};
  CHECK(edit_record(one.files, one.folder / "none.csv", edit).error().code == Errc::input_missing);
  CHECK(read_all(metadata_path(one.path)) == before);

  auto writer = RecordWriter::create(one.files, one.folder / "b.csv",
                                     test_support::loop_record().metadata, {}, 0.0);
  REQUIRE(writer);
  CHECK_THAT(edit_record(one.files, one.folder / "b.csv", edit).error().message,
             Contains("being written just now"));
  // A writer that is gone without closing no longer holds the record.
  writer.value().reset();
  CHECK(edit_record(one.files, one.folder / "b.csv", edit));
}
