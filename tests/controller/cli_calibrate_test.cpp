// `springwright calibrate` as a user calls it: answers, exit codes, and files on disk.
#include <unistd.h>

#include <catch2/catch.hpp>
#include <filesystem>
#include <fstream>
#include <nlohmann/json.hpp>
#include <sstream>
#include <string>
#include <vector>

#include "tests/support/command_line.hpp"

namespace {

namespace fs = std::filesystem;
using Catch::Matchers::Contains;
using Catch::Matchers::WithinAbs;
using Catch::Matchers::WithinRel;

// A folder of its own with readings of a cell of 80 counts per newton; gone at the end.
class Bench {
 public:
  Bench() {
    std::string name = (fs::temp_directory_path() / "calibrate-XXXXXX").string();
    REQUIRE(mkdtemp(name.data()) != nullptr);
    folder_ = name;
    std::ofstream(folder_ / "weights.csv")
        << "force_N,counts\n"
           "0,12000\n100,20003\n200,27998\n300,36001\n400,43999\n"
           "300,36004\n200,28003\n100,20001\n0,11999\n";
    std::ofstream(folder_ / "blocks.csv") << "steps,travel_mm\n"
                                             "0,0\n8001,20\n16000,40\n23999,60\n";
  }
  ~Bench() { fs::remove_all(folder_); }

  std::string path(const std::string& name) const { return (folder_ / name).string(); }
  bool has(const std::string& name) const { return fs::exists(folder_ / name); }

  // Runs the program's own command line; answers and complaints are kept for looking at.
  int run(const std::vector<std::string>& words) {
    std::vector<std::string> all = {"calibrate"};
    all.insert(all.end(), words.begin(), words.end());
    const test_support::CommandRun done = test_support::run_words(all);
    answer = done.answer;
    complaint = done.complaint;
    return done.exit_code;
  }

  int make_force() {
    return run({"force", path("weights.csv"), "--out", path("force.json"), "--standard",
                "transducer", "--standard-uncertainty", "0.05 %", "--date", "2026-11-01",
                "--valid-until", "2099-11-01", "--operator", "R. Fell", "--json"});
  }

  std::string answer;
  std::string complaint;

 private:
  fs::path folder_;
};

TEST_CASE("calibrate command: force readings become a certificate and an answer", "[cli]") {
  Bench bench;
  REQUIRE(bench.make_force() == 0);
  const auto json = nlohmann::json::parse(bench.answer);
  CHECK_THAT(json["coefficients"][1].get<double>(), WithinRel(0.0125, 1e-3));  // a few counts
  CHECK(json["standard_uncertainties"][1].get<double>() > 0.0);
  CHECK(json["gain_relative_standard_uncertainty"].get<double>() > 0.0005);
  CHECK(json["remarks"].empty());
  std::ifstream file(bench.path("force.json"));
  const auto certificate = nlohmann::json::parse(file);
  CHECK(certificate["id"] == json["id"]);
  CHECK(certificate["particulars"]["operator"] == "R. Fell");
}

TEST_CASE("calibrate command: the plain answer names coefficients, scatter and lack of fit",
          "[cli]") {
  Bench bench;
  REQUIRE(bench.run({"force", bench.path("weights.csv"), "--out", bench.path("f.json")}) == 0);
  for (const char* words : {"c1", "standard uncertainty", "residual standard deviation",
                            "lack of fit F(3, 4)", "hysteresis", "is assumed"}) {
    CHECK_THAT(bench.answer, Contains(words));
  }
}

TEST_CASE("calibrate command: an existing certificate stays as it is", "[cli][fault]") {
  Bench bench;
  REQUIRE(bench.make_force() == 0);
  const auto before = fs::last_write_time(bench.path("force.json"));
  CHECK(bench.make_force() == 7);
  CHECK_THAT(bench.complaint, Contains("not overwritten"));
  CHECK(fs::last_write_time(bench.path("force.json")) == before);
}

TEST_CASE("calibrate command: travel and frame have their own readings", "[cli]") {
  Bench bench;
  CHECK(bench.run({"travel", bench.path("blocks.csv"), "--out", bench.path("travel.json")}) == 0);
  CHECK_THAT(bench.answer, Contains("mm/step"));
  CHECK(bench.run({"frame", bench.path("blocks.csv"), "--out", bench.path("frame.json")}) == 3);
  CHECK_THAT(bench.complaint, Contains("blocks.csv:1"));
  CHECK_FALSE(bench.has("frame.json"));
}

TEST_CASE("calibrate check: a load within, and one outside, the expected interval", "[cli]") {
  Bench bench;
  REQUIRE(bench.make_force() == 0);
  const auto check = [&](const char* load, const char* counts, int code = 0) {
    REQUIRE(bench.run({"check", bench.path("force.json"), "--load", load, "--counts", counts,
                       "--json"}) == code);
    return nlohmann::json::parse(bench.answer);
  };
  CHECK(check("200 N", "28001")["within"] == true);
  const auto outside = check("200 N", "28400", 3);
  CHECK(outside["within"] == false);
  CHECK_THAT(bench.complaint, Contains("calibrate again"));
  CHECK_THAT(outside["difference_N"].get<double>(), WithinAbs(5.0, 0.1));  // 400 counts
  CHECK(outside["expanded_uncertainty_N"].get<double>() < 1.0);
  // 20.3943 kg is 200 N under standard gravity.
  CHECK(check("20.3943 kg", "28001")["within"] == true);
  CHECK_THAT(check("20.3943 kg", "28001")["load_N"].get<double>(), WithinRel(200.0, 1e-5));
}

TEST_CASE("calibrate check: today's zero is taken off, and the range is watched", "[cli]") {
  Bench bench;
  REQUIRE(bench.make_force() == 0);
  REQUIRE(bench.run({"check", bench.path("force.json"), "--load", "200 N", "--counts", "28400",
                     "--zero-counts", "12400"}) == 0);
  CHECK_THAT(bench.answer, Contains("Within"));
  REQUIRE(bench.run({"check", bench.path("force.json"), "--load", "900 N", "--counts", "84000"}) ==
          0);
  CHECK_THAT(bench.complaint, Contains("beyond the calibrated range"));
}

TEST_CASE("calibrate check: an expired certificate warns and still answers", "[cli]") {
  Bench bench;
  REQUIRE(bench.run({"force", bench.path("weights.csv"), "--out", bench.path("old.json"), "--date",
                     "2020-01-01", "--valid-until", "2021-01-01"}) == 0);
  CHECK(bench.run({"check", bench.path("old.json"), "--load", "200 N", "--counts", "28001"}) == 0);
  CHECK_THAT(bench.complaint, Contains("valid until 2021-01-01"));
  CHECK_THAT(bench.answer, Contains("Within"));
}

TEST_CASE("calibrate command: the workshop's bench knows the place and the rig", "[cli]") {
  Bench bench;
  std::ofstream(bench.path("bench.toml"))
      << "[rig]\nname = \"bench 1\"\n"
         "[place]\nlatitude = \"45 deg\"\naltitude = \"1000 m\"\n";
  std::ofstream(bench.path("kg.csv")) << "load_kg,counts\n0,0\n10,7842\n20,15685\n30,23527\n";
  const fs::path before = fs::current_path();
  fs::current_path(bench.path("."));
  const int code = bench.run({"force", "kg.csv", "--out", "kg.json"});
  fs::current_path(before);
  REQUIRE(code == 0);
  std::ifstream file(bench.path("kg.json"));
  const auto certificate = nlohmann::json::parse(file);
  // Source: [WGS84] 45 degrees, 1000 m.
  CHECK_THAT(certificate["conditions"]["gravity_m_s2"].get<double>(), WithinAbs(9.803112944, 1e-9));
  CHECK(certificate["particulars"]["rig"] == "bench 1");
}

TEST_CASE("calibrate command: what is wrong sets the exit code", "[cli][fault]") {
  Bench bench;
  REQUIRE(bench.make_force() == 0);
  REQUIRE(bench.run({"travel", bench.path("blocks.csv"), "--out", bench.path("t.json")}) == 0);
  struct Wrong {
    std::vector<std::string> words;
    int code;
    const char* says;
  };
  const std::vector<Wrong> all = {
      {{}, 2, "needs a command"},
      {{"force", bench.path("weights.csv")}, 2, "--out"},
      {{"force", bench.path("weights.csv"), "--out", "x", "--degree", "4"}, 2, "--degree"},
      {{"force", bench.path("weights.csv"), "--out", "x", "--standard-uncertainty", "1 mm"},
       2,
       "--standard-uncertainty"},
      {{"force", bench.path("none.csv"), "--out", bench.path("x")}, 3, "none.csv"},
      {{"force", bench.path("blocks.csv"), "--out", bench.path("x")}, 3, "'steps' is not known"},
      {{"force", bench.path("weights.csv"), "--out", bench.path("x"), "--date", "25.11.2026"},
       3,
       "25.11.2026"},
      {{"force", bench.path("weights.csv"), "--out", bench.path("none/x")}, 7, "none/x"},
      {{"check", bench.path("force.json"), "--load", "20 mm", "--counts", "1"}, 2, "--load"},
      {{"check", bench.path("t.json"), "--load", "20 N", "--counts", "1"}, 3, "travel"},
      {{"check", bench.path("weights.csv"), "--load", "20 N", "--counts", "1"}, 3, "weights.csv"},
  };
  for (const Wrong& wrong : all) {
    CAPTURE(wrong.words);
    CHECK(bench.run(wrong.words) == wrong.code);
    CHECK_THAT(bench.complaint, Contains(wrong.says));
    CHECK(bench.answer.empty());
  }
  CHECK_FALSE(bench.has("x"));
}

TEST_CASE("calibrate command: the help carries the cautions", "[cli]") {
  Bench bench;
  CHECK(bench.run({"force", "--help"}) == 0);
  CHECK_THAT(bench.answer, Contains("can crush a hand"));
  CHECK_THAT(bench.answer, Contains("springwright calibrate force"));
}

}  // namespace
