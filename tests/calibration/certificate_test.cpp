// Certificates on disk: the same back, never overwritten, and never trusted when changed.
#include "calibration/certificate.hpp"

#include <unistd.h>

#include <catch2/catch.hpp>
#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <sstream>

#include "calibration/calibrate.hpp"
#include "calibration/certificate_json.hpp"
#include "calibration/superseded.hpp"
#include "protocol/record/json_fields.hpp"
#include "protocol/record/sha256.hpp"
#include "tests/calibration/readings_support.hpp"

namespace {

namespace fs = std::filesystem;
using calibration::Calibration;
using calibration::make_calibration;
using calibration::parse_certificate;
using Catch::Matchers::Contains;
using Catch::Matchers::WithinRel;
using protocol::Errc;
using namespace calibration_test;

constexpr const char* kToday = "2026-12-01";

// A folder of its own, gone at the end.
class Folder {
 public:
  Folder() {
    std::string name = (fs::temp_directory_path() / "certificate-XXXXXX").string();
    REQUIRE(mkdtemp(name.data()) != nullptr);
    path_ = name;
  }
  ~Folder() { fs::remove_all(path_); }
  fs::path operator/(const std::string& name) const { return path_ / name; }
  size_t files() const {
    return static_cast<size_t>(std::distance(fs::directory_iterator(path_), {}));
  }

 private:
  fs::path path_;
};

std::string text_of(const fs::path& path) {
  std::ifstream file(path);
  std::stringstream text;
  text << file.rdbuf();
  return text.str();
}

std::string replaced(std::string text, const std::string& from, const std::string& to) {
  const size_t place = text.find(from);
  REQUIRE(place != std::string::npos);
  return text.replace(place, from.size(), to);
}

TEST_CASE("certificate: everything comes back from the disk as it was", "[calibration]") {
  calibration::ReadingSet set = force_readings(7);
  set.conditions.gravity_m_s2 = 9.8123;
  set.readings[1].load_kg = 100.0 / 9.8123;
  const Calibration cell = make_calibration(set, 2).value();
  const Folder folder;
  protocol::DiskFileSystem disk;
  REQUIRE(calibration::save_certificate(disk, cell, folder / "cell.json"));
  const auto loaded = calibration::load_certificate(folder / "cell.json", kToday);
  REQUIRE(loaded);
  CHECK(loaded->warnings.empty());
  const Calibration& back = loaded->calibration;
  CHECK(calibration::content_id(back) == cell.id);  // the id covers every field
  CHECK(back.id == cell.id);
  CHECK(back.coefficients == cell.coefficients);
  CHECK(back.covariance == cell.covariance);
  CHECK(back.readings.size() == cell.readings.size());
  CHECK(back.readings[1].load_kg == cell.readings[1].load_kg);
  CHECK(back.particulars.standards.at(0).certificate == "T-118");
  CHECK(back.conditions.gravity_m_s2 == 9.8123);
  CHECK(back.quality.lack_of_fit->F == cell.quality.lack_of_fit->F);
  CHECK(back.estimate(20000.0).standard_uncertainty == cell.estimate(20000.0).standard_uncertainty);
}

// A calibration that uses every field there is.
Calibration full_calibration() {
  calibration::ReadingSet set = force_readings(7);
  set.particulars.place = "bench room";
  set.particulars.temperature_K = 294.25;
  set.particulars.supersedes = std::string(64, 'a');
  set.particulars.standards = {{"set 3", "W-2231", std::nullopt, "M1", "2027-05-01"}};
  set.creep = calibration::CreepRun{0.0, 50.0, {{0.0, 51200.0}, {600.0, 51209.0}}};
  set.resolution = 2.0;
  set.remarks = {"The 40 kg load was left out."};
  return make_calibration(set).value();
}

TEST_CASE("certificate: place, creep, resolution, trials and predecessor come back too",
          "[calibration]") {
  const Calibration cell = full_calibration();
  const auto loaded = parse_certificate(calibration::certificate_text(cell), "cell.json", kToday);
  REQUIRE(loaded);
  const Calibration& back = loaded->calibration;
  CHECK(calibration::content_id(back) == cell.id);
  CHECK(back.particulars.place == "bench room");
  CHECK(back.particulars.temperature_K == 294.25);
  CHECK(back.particulars.supersedes == std::string(64, 'a'));
  CHECK(back.particulars.standards.at(0).weight_class == "M1");
  CHECK(back.particulars.standards.at(0).valid_until == "2027-05-01");
  REQUIRE(back.creep.has_value());
  CHECK(back.creep->load_kg == 50.0);
  CHECK(back.creep->load_N == cell.creep->load_N);
  CHECK(back.creep->readings.at(1).reading == 51209.0);
  CHECK(back.resolution == 2.0);
  CHECK(back.degree_trials.size() == 3);
  CHECK(back.degree_trials[0].lack_of_fit->F == cell.degree_trials[0].lack_of_fit->F);
  CHECK(back.remarks == cell.remarks);
}

TEST_CASE("certificate: performance and budget are there for the reader, and guarded by the id",
          "[calibration]") {
  const Calibration cell = full_calibration();
  const std::string text = calibration::certificate_text(cell);
  const protocol::Json json = protocol::parse_json(text, "cell.json").value();
  CHECK(json.at("performance").at("full_scale_N") == 500.0);
  CHECK(json.at("performance").at("limits_met").at("standard") == "ISO 7500-1");
  REQUIRE(json.at("budget").size() == 6);
  const protocol::Json& largest = json.at("budget").at(5);
  CHECK_THAT(largest.at("value").get<double>(), WithinRel(500.0, 1e-9));
  CHECK_THAT(largest.at("combined_standard_uncertainty").get<double>(),
             WithinRel(cell.estimate(cell.reading_at(500.0).value()).standard_uncertainty, 1e-9));
  const auto refused =
      parse_certificate(replaced(text, "\"enough_readings\": true", "\"enough_readings\": false"),
                        "cell.json", kToday);
  REQUIRE_FALSE(refused);
  CHECK(refused.error().code == Errc::calibration_unusable);
}

TEST_CASE("certificate: one that says less, as older ones do, is as valid", "[calibration]") {
  const Calibration cell = make_calibration(force_readings(7)).value();
  protocol::Json json =
      protocol::parse_json(calibration::certificate_text(cell), "cell.json").value();
  for (const char* key : {"performance", "budget", "degree_trials"}) REQUIRE(json.erase(key) == 1);
  json["id"] = protocol::sha256_hex(calibration::canonical_text(json));
  const auto loaded = parse_certificate(protocol::json_text(json), "cell.json", kToday);
  REQUIRE(loaded);
  CHECK(loaded->calibration.coefficients == cell.coefficients);
  CHECK(loaded->calibration.degree_trials.empty());
}

TEST_CASE("certificate: a degree that the readings would not choose is named",
          "[calibration][fault]") {
  Calibration cell = make_calibration(force_readings(7), 3).value();
  cell.degree_trials = make_calibration(force_readings(7))->degree_trials;
  const auto refused = parse_certificate(calibration::certificate_text(cell), "cell.json", kToday);
  REQUIRE_FALSE(refused);
  CHECK_THAT(refused.error().message, Contains("degree is 3 in the file, and 1 from its readings"));
}

TEST_CASE("certificate: a successor in the same folder is found", "[calibration]") {
  const Folder folder;
  protocol::DiskFileSystem disk;
  const Calibration old = make_calibration(force_readings(1)).value();
  REQUIRE(calibration::save_certificate(disk, old, folder / "old.json"));
  CHECK(calibration::find_successors(folder / "old.json", old.id).empty());
  calibration::ReadingSet set = force_readings(2);
  set.particulars.supersedes = old.id;
  const Calibration newer = make_calibration(set).value();
  REQUIRE(calibration::save_certificate(disk, newer, folder / "newer.json"));
  std::ofstream(folder / "broken.json") << "{";
  CHECK(calibration::find_successors(folder / "old.json", old.id) ==
        std::vector<std::string>{"newer.json"});
  CHECK(calibration::find_successors(folder / "newer.json", newer.id).empty());
}

TEST_CASE("certificate: an existing file is never overwritten", "[calibration][fault]") {
  const Folder folder;
  protocol::DiskFileSystem disk;
  const Calibration first = make_calibration(force_readings(1)).value();
  const Calibration second = make_calibration(force_readings(2)).value();
  REQUIRE(first.id != second.id);
  REQUIRE(calibration::save_certificate(disk, first, folder / "cell.json"));
  const auto refused = calibration::save_certificate(disk, second, folder / "cell.json");
  REQUIRE_FALSE(refused);
  CHECK(refused.error().code == Errc::output_exists);
  CHECK(text_of(folder / "cell.json") == calibration::certificate_text(first));
  CHECK(folder.files() == 1);
}

TEST_CASE("certificate: where it cannot be written, nothing is left", "[calibration][fault]") {
  const Folder folder;
  protocol::DiskFileSystem disk;
  const Calibration cell = make_calibration(force_readings(1)).value();
  const auto refused = calibration::save_certificate(disk, cell, folder / "none/cell.json");
  REQUIRE_FALSE(refused);
  CHECK(refused.error().code == Errc::write_failed);
  CHECK(folder.files() == 0);
}

TEST_CASE("certificate: any change of the content is refused, and named where the readings tell",
          "[calibration][fault]") {
  const Calibration cell = make_calibration(force_readings(7)).value();
  const std::string text = calibration::certificate_text(cell);
  struct Edit {
    std::string from;
    std::string to;
    std::string says;
  };
  const std::string slope = protocol::number_text(cell.coefficients[1]);
  const std::string reading = protocol::number_text(cell.readings[4].reading);
  const Edit edit = GENERATE_COPY(values<Edit>({
      {slope, "0.0126", "coefficients[1] is 0.0126 in the file"},
      {reading, "99999.5", "from its readings"},
      {"\"high\": 500.0", "\"high\": 5000.0", "range.high is 5000 in the file, and 500"},
      {"\"reference_relative\": 0.0005", "\"reference_relative\": 0.00005", "reference_relative"},
      {"2027-11-25", "2037-11-25", "the particulars"},
      {"R. Fell", "R. Dell", "the particulars"},
      {cell.id, std::string(64, '0'), "the id itself"},
  }));
  CAPTURE(edit.from);
  const auto refused = parse_certificate(replaced(text, edit.from, edit.to), "cell.json", kToday);
  REQUIRE_FALSE(refused);
  CHECK(refused.error().code == Errc::calibration_unusable);
  CHECK_THAT(refused.error().message, Contains("does not match its id"));
  CHECK_THAT(refused.error().message, Contains(edit.says));
}

TEST_CASE("certificate: laid out anew it is still the same", "[calibration]") {
  const std::string text =
      calibration::certificate_text(make_calibration(force_readings(7)).value());
  std::string flat;
  for (const char letter : text) {
    if (letter != '\n') flat += letter;
  }
  flat = replaced(flat, "\"high\": 500.0", "\"high\": 5e2");
  CHECK(parse_certificate(flat, "cell.json", kToday));
}

TEST_CASE("certificate: expired, it is still usable and warns", "[calibration]") {
  const std::string text =
      calibration::certificate_text(make_calibration(force_readings(7)).value());
  CHECK(parse_certificate(text, "cell.json", "2027-11-25")->warnings.empty());
  const auto late = parse_certificate(text, "cell.json", "2027-11-26");
  REQUIRE(late);
  REQUIRE(late->warnings.size() == 1);
  CHECK_THAT(late->warnings[0], Contains("valid until 2027-11-25"));
  CHECK(late->calibration.is_expired("2027-11-26"));
}

TEST_CASE("certificate: a calibration without a limit never expires", "[calibration]") {
  calibration::ReadingSet set = force_readings(7);
  set.particulars.valid_until.clear();
  const std::string text = calibration::certificate_text(make_calibration(set).value());
  CHECK(parse_certificate(text, "cell.json", "2099-01-01")->warnings.empty());
}

TEST_CASE("certificate: what is not a certificate is refused with the reason",
          "[calibration][fault]") {
  const std::string text =
      calibration::certificate_text(make_calibration(force_readings(7)).value());
  struct Edit {
    const char* from;
    const char* to;
    Errc code;
    const char* says;
  };
  const Edit edit = GENERATE(values<Edit>({
      {"{", "[", Errc::input_malformed, "cell.json"},
      {"\"format_version\": 2", "\"format_version\": 3", Errc::input_malformed,
       "newer Springwright"},
      {"springwright-calibration", "something else", Errc::input_malformed, "format"},
      {"\"kind\": \"force\"", "\"kind\": \"torque\"", Errc::input_malformed, "kind"},
      {"\"rig\"", "\"bench\"", Errc::input_malformed, "rig"},
      {"\"remarks\"", "\"comments\"", Errc::input_malformed, "remarks"},
      {"\"operator\"", "\"extra\": 1, \"operator\"", Errc::input_unknown_key, "extra"},
      {"2026-11-25", "25.11.2026", Errc::input_malformed, "date"},
      {"\"coefficients\": [", "\"coefficients\": [1.0, 1.0, ", Errc::input_malformed, "covariance"},
      {"ascending", "sideways", Errc::input_malformed, "direction"},
      {"\"reading_unit\": \"counts\"", "\"reading_unit\": \"steps\"", Errc::input_malformed,
       "reading_unit"},
  }));
  CAPTURE(edit.from, edit.to);
  const auto refused = parse_certificate(replaced(text, edit.from, edit.to), "cell.json", kToday);
  REQUIRE_FALSE(refused);
  CHECK(refused.error().code == edit.code);
  CHECK_THAT(refused.error().message, Contains(edit.says));
}

// Kept as version 1 wrote it.
TEST_CASE("certificate: one of the format before is read, and guarded by its own id",
          "[calibration][fault]") {
  const fs::path old =
      fs::path(SPRINGWRIGHT_SOURCE_DIR) / "tests/calibration/formats/force-version-1.json";
  const auto loaded = calibration::load_certificate(old, kToday);
  REQUIRE(loaded);
  CHECK(loaded->calibration.id ==
        "891a48b6e1b19dd04a0d24677d4fa78e0682e7fea678ab0253150b984d34acc0");
  calibration::ReadingSet set;
  set.readings = loaded->calibration.readings;
  set.conditions = loaded->calibration.conditions;
  set.particulars = loaded->calibration.particulars;
  const Calibration now = make_calibration(set).value();
  REQUIRE(now.coefficients.size() == loaded->calibration.coefficients.size());
  for (size_t i = 0; i < now.coefficients.size(); ++i) {
    CHECK_THAT(loaded->calibration.coefficients[i], WithinRel(now.coefficients[i], 1e-12));
  }
  std::ifstream file(old);
  std::ostringstream text;
  text << file.rdbuf();
  CHECK(parse_certificate(text.str(), "cell.json", kToday));
  for (const auto& [from, to] :
       {std::pair("\"version\": 1", "\"version\": 2"),
        std::pair("virtual load cell", "another load cell"),
        std::pair("springwright calibration", "springwright-calibration")}) {
    CAPTURE(from);
    CHECK_FALSE(parse_certificate(replaced(text.str(), from, to), "cell.json", kToday));
  }
}

TEST_CASE("certificate: a missing file is said to be missing", "[calibration][fault]") {
  const auto missing = calibration::load_certificate("no/such/cell.json", kToday);
  REQUIRE_FALSE(missing);
  CHECK(missing.error().code == Errc::input_missing);
}

// An independent reader: python3-jsonschema for the shape, python's own JSON and SHA-256 for the
// id.
bool python_accepts(const fs::path& certificate) {
  const std::string root = SPRINGWRIGHT_SOURCE_DIR;
  const std::string command = "python3 " + root + "/tests/calibration/check_certificate.py " +
                              root + "/calibration/certificate.schema.json " +
                              certificate.string() + " >/dev/null 2>&1";
  return std::system(command.c_str()) == 0;
}

TEST_CASE("certificate: every kind follows the schema, and its id can be worked out elsewhere",
          "[calibration]") {
  const Folder folder;
  protocol::DiskFileSystem disk;
  for (const calibration::ReadingSet& set :
       {force_readings(7), travel_readings(), frame_readings()}) {
    const Calibration one = make_calibration(set).value();
    const fs::path path = folder / (std::string(calibration::kind_name(one.kind)) + ".json");
    REQUIRE(calibration::save_certificate(disk, one, path));
    CAPTURE(path);
    CHECK(python_accepts(path));
  }
  REQUIRE(calibration::save_certificate(disk, full_calibration(), folder / "full.json"));
  CHECK(python_accepts(folder / "full.json"));
  const std::string text = text_of(folder / "force.json");
  std::ofstream(folder / "shape.json") << replaced(text, "\"rig\"", "\"bench\"");
  CHECK_FALSE(python_accepts(folder / "shape.json"));
  std::ofstream(folder / "content.json") << replaced(text, "R. Fell", "R. Dell");
  CHECK_FALSE(python_accepts(folder / "content.json"));
}

}  // namespace
