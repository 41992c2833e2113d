// The metadata file: nothing is lost on the way there and back, the schema agrees with the writer,
// and whatever is not as it should be is refused by its key.
#include <fmt/format.h>

#include <catch2/catch.hpp>
#include <cstdlib>

#include "protocol/record/metadata_json.hpp"
#include "protocol/record/record_writer.hpp"
#include "protocol/record/sha256.hpp"
#include "tests/support/records.hpp"
#include "tests/support/temporary_folder.hpp"

using namespace protocol;
using Catch::Matchers::Contains;

namespace {

Json full_document() {
  return metadata_document(test_support::full_metadata(), {}, "larch.csv",
                           RowsSeal{601, std::string(64, 'b')});
}

std::string refusal(const Json& document) {
  const Result<ReadMetadata> read = metadata_from_document(document, "m.json");
  return read ? "not refused" : read.error().message;
}

// Exit code of the schema's check of a metadata file.
int schema_check(const std::filesystem::path& file) {
  const std::string command = fmt::format(
      "python3 -c 'import json, jsonschema, sys\n"
      "schema = json.load(open(sys.argv[1]))\n"
      "jsonschema.Draft7Validator.check_schema(schema)\n"
      "errors = "
      "list(jsonschema.Draft7Validator(schema).iter_errors(json.load(open(sys.argv[2]))))\n"
      "for error in errors: print(list(error.path), error.message)\n"
      "sys.exit(1 if errors else 0)' '{}/protocol/record/sweep-record.schema.json' '{}'",
      SPRINGWRIGHT_SOURCE_DIR, file.string());
  const int status = std::system(command.c_str());
  return WIFEXITED(status) ? WEXITSTATUS(status) : -1;
}

}  // namespace

TEST_CASE("metadata: every field survives the way there and back", "[protocol]") {
  const Json document = full_document();
  const Result<Json> parsed = parse_json(json_text(document), "m.json");
  REQUIRE(parsed);
  const Result<ReadMetadata> read = metadata_from_document(*parsed, "m.json");
  if (!read) FAIL(read.error().message);
  // Because the fixture keeps every field away from its default, one that is lost changes the text.
  CHECK(json_text(metadata_document(read->metadata, read->columns, "larch.csv", read->seal)) ==
        json_text(document));
  CHECK(read->metadata.counters.frames == 9007199254740993ULL);
  CHECK(read->metadata.setting.pumped_temperature_K == 278.15);
  CHECK(read->metadata.setting.start == GasStart::cycled);
  CHECK(read->metadata.setting.coupling == Coupling::push);
  CHECK(read->metadata.force_calibration->covariance.at(3) == 1e-12);
  CHECK(read->seal->rows == 601);
}

TEST_CASE("metadata: what is not said is left out, not left blank", "[protocol]") {
  const Json document = metadata_document(Metadata{}, {false, false, false, false}, "a.csv", {});
  CHECK(document["tableSchema"]["columns"].size() == 2);
  for (const auto& [key, value] : document["springwright"].items()) {
    CAPTURE(key);
    CHECK_FALSE(value.is_null());
  }
  CHECK_FALSE(document["springwright"].contains("speed_m_s"));
  CHECK_FALSE(document["springwright"].contains("seal"));
}

TEST_CASE("metadata: each mistake is refused by its key", "[protocol]") {
  const auto changed = [](const char* pointer, const Json& value) {
    Json document = full_document();
    document[Json::json_pointer(pointer)] = value;
    return document;
  };
  const auto without = [](const char* parent, const char* key) {
    Json document = full_document();
    document[Json::json_pointer(parent)].erase(key);
    return document;
  };
  CHECK(refusal(full_document()) == "not refused");
  CHECK_THAT(refusal(changed("/springwright/colour", "red")),
             Contains("m.json.springwright: 'colour' is not a known key"));
  CHECK_THAT(refusal(changed("/springwright/setting/colour", "red")),
             Contains("m.json.springwright.setting: 'colour' is not a known key"));
  CHECK_THAT(refusal(changed("/springwright/setting/spacers", 1.5)), Contains("spacers: 1.5"));
  CHECK_THAT(refusal(changed("/springwright/setting/spacers", -1)), Contains("spacers: -1"));
  CHECK_THAT(refusal(changed("/springwright/setting/spacers", 5000000000)), Contains("spacers"));
  CHECK_THAT(refusal(changed("/springwright/setting/temperature_K", nullptr)),
             Contains("temperature_K: null is not a number"));
  CHECK_THAT(refusal(changed("/springwright/setting/ambient_pressure_Pa", 0)),
             Contains("must be more than zero"));
  CHECK_THAT(refusal(changed("/springwright/setting/start", "warm")),
             Contains("'warm' is not one of: equilibrium, cycled"));
  CHECK_THAT(refusal(changed("/springwright/state", "done")), Contains("running, complete"));
  CHECK_THAT(refusal(changed("/springwright/remarks", "cold")), Contains("list of texts"));
  CHECK_THAT(refusal(changed("/springwright/single_stroke", 1)), Contains("not true or false"));
  CHECK_THAT(refusal(changed("/springwright/force_calibration/covariance", Json::array({1.0}))),
             Contains("must be square"));
  CHECK_THAT(refusal(changed("/springwright/fork/travel_m", -1)), Contains("no fork"));
  CHECK_THAT(refusal(changed("/springwright/format_version", 2)), Contains("use a newer one"));
  CHECK_THAT(refusal(without("/springwright", "record_id")),
             Contains("record_id: this key is missing"));
  CHECK_THAT(refusal(without("/springwright/setting", "vent")), Contains("vent"));
  CHECK_THAT(refusal(Json::array()), Contains("an object is wanted"));
  // What others add around our object is theirs.
  CHECK(refusal(changed("/dc:title", "A sweep")) == "not refused");
}

TEST_CASE("json: what is not strict JSON is refused with line and column", "[protocol]") {
  const auto refused = [](const std::string& text) {
    const Result<Json> json = parse_json(text, "m.json");
    return json ? "not refused" : json.error().message;
  };
  CHECK(refused("{\"a\": [1, 2.5, null]}") == "not refused");
  CHECK_THAT(refused("{\"a\": 1,\n \"b\": nan}"), Contains("m.json:2:8: this is not JSON"));
  CHECK_THAT(refused("{\"a\": 1} x"), Contains("m.json:1:"));
  CHECK_THAT(refused(""), Contains("m.json:1:1"));
  CHECK_THAT(refused("{\"a\": 1e999}"), Contains("m.json"));
  CHECK_THAT(refused("{\"a\": 1, \"a\": 2}"), Contains("'a' is given twice"));
  CHECK_THAT(refused(std::string(40, '[') + std::string(40, ']')), Contains("nested deeper"));
  CHECK_THAT(refused(std::string(100000, '[')), Contains("m.json"));
}

TEST_CASE("metadata: a written file satisfies its schema, and a broken one does not",
          "[protocol]") {
  const test_support::TemporaryFolder folder;
  DiskFileSystem files;
  SweepRecord record = test_support::loop_record();
  REQUIRE(write_record(files, folder / "plain.csv", record));
  CHECK(schema_check(metadata_path(folder / "plain.csv")) == 0);
  record.metadata = test_support::full_metadata();
  REQUIRE(write_record(files, folder / "full.csv", record));
  CHECK(schema_check(metadata_path(folder / "full.csv")) == 0);
  Json broken = full_document();
  broken["springwright"]["setting"]["spacers"] = -1;
  test_support::write_all(folder / "broken.json", json_text(broken));
  CHECK(schema_check(folder / "broken.json") == 1);
}

TEST_CASE("metadata: the schema knows every key that the writer writes", "[protocol]") {
  const std::string text =
      test_support::read_all(SPRINGWRIGHT_SOURCE_DIR "/protocol/record/sweep-record.schema.json");
  const Result<Json> schema = parse_json(text, "schema");
  REQUIRE(schema);
  const Json& known = (*schema)["definitions"]["springwright"]["properties"];
  const Json document = full_document();
  for (const auto& [key, value] : document["springwright"].items()) {
    CAPTURE(key);
    CHECK(known.contains(key));
  }
  // Because the fixture sets every field, the schema has no key that nothing writes.
  CHECK(known.size() == document["springwright"].size());
}

TEST_CASE("sha256: the published digests", "[protocol][oracle]") {
  // Source: [FIPS180-4] SHA-256 examples: "abc", the 448-bit message, one million letters "a".
  CHECK(sha256_hex("abc") == "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad");
  CHECK(sha256_hex("abcdbcdecdefdefgefghfghighijhijkijkljklmklmnlmnomnopnopq") ==
        "248d6a61d20638b8e5c026930c3e6039a33ce45964ff2167f6ecedd419db06c1");
  Sha256 hash;
  for (int i = 0; i < 1000; ++i) hash.update(std::string(1000, 'a'));
  CHECK(hash.hex() == "cdc76e5c9914fb9281a1c7e284d73e67f1809a48a497200e046d39ccc7112cd0");
}
