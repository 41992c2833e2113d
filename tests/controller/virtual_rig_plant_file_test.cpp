// Plant files: what is shipped loads, what is wrong is refused with its place.
#include "controller/virtual_rig/plant_file.hpp"

#include <catch2/catch.hpp>
#include <cmath>
#include <filesystem>
#include <fstream>
#include <sstream>

#include "protocol/record/fork_file.hpp"

using namespace controller::virtual_rig;
using Catch::Matchers::Contains;
using Catch::Matchers::WithinRel;
using protocol::Errc;

namespace {

const std::string kForks = SPRINGWRIGHT_SOURCE_DIR "/controller/virtual_rig/forks/";

std::string text_of(const std::string& path) {
  std::ifstream in(path);
  std::stringstream text;
  text << in.rdbuf();
  return text.str();
}

// A folder with the bench and one fork whose text has been changed; gone with it.
class ChangedFork {
 public:
  ChangedFork(const std::string& from, const std::string& to) {
    std::string text = text_of(kForks + "larch_160.toml");
    const size_t found = text.find(from);
    REQUIRE(found != std::string::npos);
    text.replace(found, from.size(), to);
    folder_ = std::filesystem::temp_directory_path() /
              ("plant_file_test_" + std::to_string(std::hash<std::string>{}(from + to)));
    std::filesystem::create_directories(folder_);
    std::ofstream(folder_ / "bench.toml") << text_of(kForks + "bench.toml");
    std::ofstream(path()) << text;
  }
  ~ChangedFork() { std::filesystem::remove_all(folder_); }
  std::string path() const { return (folder_ / "fork.toml").string(); }

 private:
  std::filesystem::path folder_;
};

}  // namespace

TEST_CASE("plant file: the shipped forks are two plausible ones", "[virtual_rig]") {
  const auto name = GENERATE("larch_160.toml", "basalt_160.toml");
  CAPTURE(name);
  const auto file = load_plant(kForks + name);
  REQUIRE(file);
  const PlantFork& fork = file->fork;
  CHECK(fork.travel_m == 0.16);
  CHECK(fork.piston_area_m2() > fork.negative_area_m2());
  CHECK(fork.positive.volume_m3 > 190e-6);
  CHECK(fork.positive.volume_m3 < 230e-6);
  CHECK(file->bench.load_cell.samples_per_s == 80.0);
}

TEST_CASE("plant file: the caliper's forks are 10 to 25 % off in every volume they state",
          "[virtual_rig]") {
  const auto name = GENERATE("larch_160.toml", "basalt_160.toml");
  CAPTURE(name);
  const auto plant = load_plant(kForks + name);
  REQUIRE(plant);
  const auto fork = protocol::load_fork(kForks + "caliper/" + name);
  REQUIRE(fork);
  const PlantFork& truth = plant->fork;
  CHECK(fork->name == truth.name);
  CHECK_THAT(fork->air_spring.piston_diameter_m, WithinRel(truth.piston_diameter_m, 1e-12));
  CHECK_THAT(fork->air_spring.shaft_diameter_m, WithinRel(truth.shaft_diameter_m, 1e-12));
  const auto off = [](const std::optional<protocol::Toleranced>& stated, double really) {
    if (!stated) return;
    const double part = std::abs(stated->value / really - 1.0);
    CHECK(part >= 0.10);
    CHECK(part <= 0.25);
  };
  off(fork->air_spring.positive_volume_m3, truth.positive.volume_m3);
  off(fork->air_spring.negative_volume_m3, truth.negative.volume_m3);
  off(fork->air_spring.transfer_travel_m, truth.port.centre_m);
  off(fork->lower_legs.volume_m3, truth.lower_legs.volume_m3);
  // Some keys are left out.
  CHECK_FALSE((fork->air_spring.transfer_travel_m && fork->lower_legs.volume_m3 &&
               fork->damper_rod_diameter_m));
}

TEST_CASE("plant file: what is wrong is refused, with file, line and column", "[virtual_rig]") {
  struct Row {
    const char *from, *to;
    Errc code;
    const char *where, *says;
  };
  const auto row = GENERATE(values<Row>({
      {"travel = \"160 mm\"", "travel = \"160 mm\"\nwheel = 29", Errc::input_unknown_key,
       ":5:", "'wheel' is not a known key"},
      {"band = \"1.2 mm\"", "", Errc::input_malformed, ":",
       "'band' in [air_spring.port]: this key is required"},
      {"band = \"1.2 mm\"", "band = 1.2", Errc::input_malformed, ":", "a text in quotes is wanted"},
      {"band = \"1.2 mm\"", "band = \"1.2 psi\"", Errc::unit_wrong_dimension, ":", "is a pressure"},
      {"band = \"1.2 mm\"", "band = \"0 mm\"", Errc::input_out_of_range, ":", "more than zero"},
      {"area_mm2 = 1.6", "area_mm2 = \"1.6\"", Errc::input_malformed, ":", "a number is wanted"},
      {"wall_coefficient_W_per_m2K = 13.0",
       "wall_coefficient_W_per_m2K = 13.0\nthermal_time = \"4 s\"", Errc::input_malformed, ":",
       "either wall_coefficient_W_per_m2K or thermal_time"},
      {"volume = \"214 cm3\"", "volume = \"114 cm3\"", Errc::input_out_of_range, "",
       "the piston does not fit"},
      {"[friction]", "[friction", Errc::input_malformed, ":", ""},
      {"bench = \"bench.toml\"", "bench = \"nowhere.toml\"", Errc::input_missing, "nowhere.toml",
       "nowhere.toml"},
  }));
  CAPTURE(row.from, row.to);
  const ChangedFork changed(row.from, row.to);
  const auto file = load_plant(changed.path());
  REQUIRE_FALSE(file);
  CHECK(file.error().code == row.code);
  CHECK_THAT(file.error().message, Contains(row.says) && Contains(row.where));
}

TEST_CASE("plant file: a thermal time may stand in the place of a wall coefficient",
          "[virtual_rig]") {
  const ChangedFork changed("wall_coefficient_W_per_m2K = 13.0", "thermal_time = \"4.5 s\"");
  const auto file = load_plant(changed.path());
  REQUIRE(file);
  CHECK(file->fork.positive.wall.thermal_time_s == 4.5);
  CHECK_FALSE(file->fork.negative.wall.thermal_time_s);
}
