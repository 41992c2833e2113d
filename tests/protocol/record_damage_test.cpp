// Files of our own that people, editors and other programs have changed: each is refused with its
// place and its reason, and none is harmed.
#include <catch2/catch.hpp>

#include "protocol/record/bench_file.hpp"
#include "protocol/record/csv_import.hpp"
#include "protocol/record/fork_file.hpp"
#include "protocol/record/fork_json.hpp"
#include "protocol/record/metadata_json.hpp"
#include "protocol/record/record_edit.hpp"
#include "protocol/record/record_reader.hpp"
#include "protocol/record/record_writer.hpp"
#include "protocol/units.hpp"
#include "tests/support/records.hpp"
#include "tests/support/temporary_folder.hpp"

using namespace protocol;
using Catch::Matchers::Contains;
using test_support::read_all;
using test_support::TemporaryFolder;
using test_support::write_all;

namespace {

struct Change {
  const char* from;
  const char* to;
  const char* words;  // of the refusal
};

std::string changed(std::string text, const Change& change) {
  const size_t at = text.find(change.from);
  REQUIRE(at != std::string::npos);
  return text.replace(at, std::string(change.from).size(), change.to);
}

struct OneRecord {
  OneRecord() {
    REQUIRE(write_record(files, path, test_support::loop_record()));
    metadata = read_all(metadata_path(path));
  }
  TemporaryFolder folder;
  DiskFileSystem files;
  std::filesystem::path path = folder / "a.csv";
  std::string metadata;
};

template <class T>
void check_refused(const Result<T>& result, const char* words) {
  REQUIRE_FALSE(result.has_value());
  CHECK_THAT(result.error().message, Contains(words));
}

}  // namespace

TEST_CASE("damage: metadata of another kind than they should be are refused", "[protocol]") {
  const OneRecord one;
  static const Change kChanges[] = {
      {"{", "", "this is not JSON"},
      {"\"name\": \"time_s\"", "\"name\": 5", "the header is not"},
      {"\"remarks\": []", "\"remarks\": [5]", "text"},
      {"\"remarks\": []", "\"remarks\": 5", "list"},
      {"\"state\": \"complete\"", "\"state\": 7", "text"},
      {"\"spacers\": ", "\"spacers\": 1.5, \"others\": ", "whole number"},
      {"\"spacers\": ", "\"spacers\": 18446744073709551615, \"others\": ", "whole number"},
      {"\"travel_m\": ", "\"travel_m\": \"long\", \"others\": ", "not a number"},
  };
  for (const Change& change : kChanges) {
    CAPTURE(change.to);
    write_all(metadata_path(one.path), changed(one.metadata, change));
    check_refused(load_record(one.path), change.words);
    const std::string before = read_all(metadata_path(one.path));
    RecordEdit edit;
    edit.remarks = {"seen"};
    DiskFileSystem files;
    if (std::string(change.words) != "the header is not") {
      CHECK_FALSE(load_record_metadata(one.path).has_value());
      CHECK_FALSE(edit_record(files, one.path, edit).has_value());
      CHECK(read_all(metadata_path(one.path)) == before);
    }
  }
}

TEST_CASE("damage: rows that are not rows are refused with their place", "[protocol]") {
  const OneRecord one;
  const std::string rows = read_all(one.path);
  write_all(one.path, changed(rows, {"time_s,", "\"time_s,", ""}));
  check_refused(load_record(one.path), "a.csv:1");
  write_all(one.path, changed(rows, {",raw_counts", "", ""}));
  check_refused(load_record(one.path), "the header is not");
  write_all(one.path, changed(rows, {"raw_counts", "raw_counts,more", ""}));
  check_refused(load_record(one.path), "the header is not");
  write_all(one.path, rows + "\"5\"5\r\n");
  check_refused(load_record(one.path), "a.csv:202");
  write_all(one.path, "");
  check_refused(load_record(one.path), "has no rows");
}

TEST_CASE("damage: a record that is not there is said to be missing", "[protocol]") {
  const TemporaryFolder folder;
  DiskFileSystem files;
  CHECK(load_record(folder / "a.csv").error().code == Errc::input_missing);
  CHECK(load_record_metadata(folder / "a.csv").error().code == Errc::input_missing);
  RecordEdit edit;
  edit.remarks = {"seen"};
  CHECK(edit_record(files, folder / "a.csv", edit).error().code == Errc::input_missing);
  edit.remarks = {" "};
  CHECK(edit_record(files, folder / "a.csv", edit).error().code == Errc::usage);
  CHECK(load_fork(folder / "a.toml").error().code == Errc::input_missing);
  CHECK(load_bench(folder / "bench.toml").error().code == Errc::input_missing);
}

TEST_CASE("damage: a bench file that cannot be is refused", "[protocol]") {
  static const Change kBenches[] = {
      {"", "[place]\ngravity_m_s2 = 9.69\n", "gravity"},
      {"", "[place]\ngravity_m_s2 = 9.91\n", "gravity"},
      {"", "[rig]\nsteps_per_mm = \"many\"\n", "a number is wanted"},
      {"", "[rig]\nsteps_per_mm = nan\n", "a number is wanted"},
      {"", "rig = 5\n", "a table is wanted"},
      {"", "[rig\n", ":1:5"},
      {"", "[rig]\ncoupling = 5\n", "a text in quotes"},
      {"", "[speed]\n", "not a known key"},
  };
  for (const Change& bench : kBenches) {
    CAPTURE(bench.to);
    check_refused(parse_bench(bench.to, "bench.toml"), bench.words);
  }
}

TEST_CASE("damage: a fork file that says a thing twice, or what cannot be, is refused",
          "[protocol]") {
  const std::string twice = test_support::kLarchToml + "damper_rod_diameter = \"10 mm\"\n";
  check_refused(parse_fork("damper_rod_diameter = \"10 mm\"\n" + twice, "f.toml"), "said twice");
  const std::string bumper = test_support::kLarchToml + "bumper = \"10 mm\"\n";
  check_refused(parse_fork("bumper = \"10 mm\"\n" + bumper, "f.toml"), "said twice");
  const std::string& good = test_support::kLarchToml;
  check_refused(parse_fork(changed(good, {"2.5 mm", "-1 mm", ""}), "f.toml"), "within the travel");
  check_refused(parse_fork(changed(good, {"2.5 mm", "161 mm", ""}), "f.toml"), "within the travel");

  // The same fork inside a record or a model.
  const Result<Fork> fork = parse_fork(good, "f.toml");
  REQUIRE(fork);
  for (const char* key : {"maximum_pressure_Pa", "travel_m"}) {
    Json json = fork_to_json(*fork);
    json[key] = 0.0;
    CHECK_FALSE(fork_from_json(json, "fork").has_value());
  }
  Json thick = fork_to_json(*fork);
  thick["air_spring"]["shaft_diameter_m"] = 0.05;
  CHECK_FALSE(fork_from_json(thick, "fork").has_value());
  thick["air_spring"]["shaft_diameter_m"] = 0.0;
  CHECK_FALSE(fork_from_json(thick, "fork").has_value());
  thick["air_spring"] = 5;
  CHECK_FALSE(fork_from_json(thick, "fork").has_value());
}

TEST_CASE("damage: a foreign file that is not what the options say is refused", "[protocol]") {
  Fork fork;
  fork.name = "Larch 160";
  fork.travel_m = 0.160;
  CsvImportOptions options;
  options.separator = '"';
  check_refused(import_csv("travel_mm,force_N\n1,2\n", "f.csv", options, fork), "cannot separate");
  options.separator = ';';
  options.decimal = ',';
  check_refused(import_csv("travel_mm;force_N\n1.5;2\n", "f.csv", options, fork), "points");
  options.separator = ',';
  options.decimal = '.';
  check_refused(import_csv("\xFE\xFFtravel", "f.csv", options, fork), "UTF-16");
  options.travel = CsvColumn{"force_N", "mm"};
  check_refused(import_csv("travel_mm,force_N\n1,2\n", "f.csv", options, fork), "two quantities");
  options.travel.reset();
  options.time = CsvColumn{"travel_mm", "s"};
  check_refused(import_csv("travel_mm,force_N\n1,2\n", "f.csv", options, fork), "two quantities");
  options.time = CsvColumn{"force_N", "s"};
  check_refused(import_csv("travel_mm,force_N\n1,2\n", "f.csv", options, fork), "two quantities");
  options.time.reset();
  // A sign before the number is a number; two are not.
  check_refused(import_csv("travel_mm,force_N\n+1,+-2\n", "f.csv", options, fork), "'+-2'");
}

TEST_CASE("damage: a unit of another kind is refused with what is wanted", "[protocol]") {
  static const std::pair<Dimension, const char*> kWanted[] = {
      {Dimension::length, "length"},
      {Dimension::force, "force"},
      {Dimension::pressure, "pressure"},
      {Dimension::volume, "volume"},
      {Dimension::temperature, "temperature"},
      {Dimension::time, "time"},
      {Dimension::speed, "speed"},
      {Dimension::rate, "spring rate"},
      {Dimension::mass, "mass"},
      {Dimension::angle, "angle"},
      {Dimension::fraction, "fraction"},
  };
  for (const auto& [dimension, name] : kWanted) {
    const char* other = dimension == Dimension::length ? "5 N" : "\t5 mm \t";
    check_refused(parse_quantity(other, dimension), name);
  }
}

TEST_CASE("damage: a record whose disk failed takes no more rows", "[protocol]") {
  const TemporaryFolder folder;
  DiskFileSystem files;
  auto writer =
      RecordWriter::create(files, folder / "a.csv", test_support::loop_record().metadata, {}, 0.0);
  REQUIRE(writer);
  // Nothing to flush, nothing to do.
  CHECK((*writer)->tick(10.0));
  CHECK((*writer)->end_stroke());
  CHECK((*writer)->close(RecordState::interrupted, "before the first row"));
  check_refused(load_record(folder / "a.csv"), "has no rows");
}
