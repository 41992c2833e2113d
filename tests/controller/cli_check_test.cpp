// `springwright calibrate check` and `show` as a user calls them: the history that grows, the
// chart, the page.
#include <unistd.h>

#include <algorithm>
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

// A folder of its own with a certificate of 80 counts per newton; gone at the end.
class Bench {
 public:
  Bench() {
    std::string name = (fs::temp_directory_path() / "check-XXXXXX").string();
    REQUIRE(mkdtemp(name.data()) != nullptr);
    folder_ = name;
    std::ofstream(path("weights.csv")) << "force_N,counts\n"
                                          "0,12000\n100,20003\n200,27998\n300,36001\n400,43999\n"
                                          "300,36004\n200,28003\n100,20001\n0,11999\n";
    REQUIRE(run({"force", path("weights.csv"), "--out", path("force.json"), "--standard",
                 "transducer", "--standard-uncertainty", "0.05 %", "--date", "2026-11-01"}) == 0);
  }
  ~Bench() { fs::remove_all(folder_); }

  std::string path(const std::string& name) const { return (folder_ / name).string(); }

  int run(const std::vector<std::string>& words) {
    std::vector<std::string> all = {"calibrate"};
    all.insert(all.end(), words.begin(), words.end());
    const test_support::CommandRun done = test_support::run_words(all);
    answer = done.answer;
    complaint = done.complaint;
    return done.exit_code;
  }

  int check(const std::string& counts, const std::vector<std::string>& more = {}) {
    std::vector<std::string> words = {"check",     path("force.json"), "--load",
                                      "200 N",     "--counts",         counts,
                                      "--history", path("h.csv")};
    words.insert(words.end(), more.begin(), more.end());
    return run(words);
  }

  std::string text_of(const std::string& name) const {
    std::ifstream file(path(name));
    std::ostringstream text;
    text << file.rdbuf();
    return text.str();
  }
  int lines_of(const std::string& name) const {
    const std::string text = text_of(name);
    return static_cast<int>(std::count(text.begin(), text.end(), '\n'));
  }

  std::string answer;
  std::string complaint;

 private:
  fs::path folder_;
};

}  // namespace

TEST_CASE("calibrate check: every check is kept, within or not", "[cli]") {
  Bench bench;
  CHECK(bench.check("28001", {"--operator", "R. Fell"}) == 0);
  CHECK(bench.check("28400") == 3);
  CHECK_THAT(bench.answer, Contains("OUTSIDE"));
  CHECK_THAT(bench.complaint, Contains("calibrate again"));
  CHECK(bench.lines_of("h.csv") == 3);
  CHECK_THAT(bench.text_of("h.csv"), Contains("R. Fell") && Contains(",yes,") && Contains(",no,"));
}

TEST_CASE("calibrate check: eight checks set limits that a ninth can break", "[cli]") {
  Bench bench;
  for (const char* counts :
       {"28001", "28003", "28000", "28002", "28001", "28003", "28000", "28002"}) {
    REQUIRE(bench.check(counts) == 0);
    CHECK_THAT(bench.answer, Contains("limits follow once 8 went before"));
  }
  CHECK(bench.check("28002", {"--json"}) == 0);
  const auto inside = nlohmann::json::parse(bench.answer);
  CHECK(inside["control_limits"]["checks"] == 8);
  // 14 counts or 0.17 N: the certificate would allow it, eight checks within 3 counts do not.
  CHECK(bench.check("28015", {"--json"}) == 3);
  const auto outside = nlohmann::json::parse(bench.answer);
  CHECK(outside["within"] == true);
  CHECK_THAT(outside["signal"].get<std::string>(), Contains("outside the control limits"));
  CHECK_THAT(bench.complaint, Contains("the certificate would allow it"));
}

TEST_CASE("calibrate check: a torn history line is passed over and left alone", "[cli][fault]") {
  Bench bench;
  REQUIRE(bench.check("28001") == 0);
  std::ofstream(bench.path("h.csv"), std::ios::app) << "2026-11-25T08:00";
  CHECK(bench.check("28002") == 0);
  CHECK_THAT(bench.complaint, Contains("h.csv:3"));
  CHECK_THAT(bench.answer, Contains("2 of this weight"));
  CHECK_THAT(bench.text_of("h.csv"), Contains("2026-11-25T08:00\n"));
}

TEST_CASE("calibrate check: a history that is none is not written to", "[cli][fault]") {
  Bench bench;
  std::ofstream(bench.path("h.csv")) << "force_N,counts\n0,1\n";
  CHECK(bench.check("28001") == 3);
  CHECK_THAT(bench.complaint, Contains("--history"));
  CHECK(bench.lines_of("h.csv") == 2);
}

TEST_CASE("calibrate check: a workshop keeps its checks beside its certificates", "[cli]") {
  Bench bench;
  std::ofstream(bench.path("bench.toml")) << "[rig]\nname = \"bench 1\"\n";
  const fs::path before = fs::current_path();
  fs::current_path(bench.path("."));
  const int code = bench.run({"check", "force.json", "--load", "200 N", "--counts", "28001"});
  fs::current_path(before);
  REQUIRE(code == 0);
  CHECK(bench.lines_of("calibrations/checks.csv") == 2);
}

TEST_CASE("calibrate check: the chart is drawn once and never overwritten", "[cli]") {
  Bench bench;
  REQUIRE(bench.check("28001", {"--chart", bench.path("chart.svg")}) == 0);
  CHECK_THAT(bench.text_of("chart.svg"), Contains("<svg") && Contains("Checks with 200.0 N"));
  CHECK(bench.check("28001", {"--chart", bench.path("chart.svg")}) == 7);
}

TEST_CASE("calibrate show: words, and a page that is never overwritten", "[cli]") {
  Bench bench;
  REQUIRE(bench.run({"show", bench.path("force.json"), "--html", bench.path("f.html")}) == 0);
  CHECK_THAT(bench.answer, Contains("Calibrated from 0") && Contains("ISO 7500-1"));
  CHECK_THAT(bench.text_of("f.html"), Contains("Certificate of calibration"));
  CHECK(bench.run({"show", bench.path("force.json"), "--html", bench.path("f.html")}) == 7);
  REQUIRE(bench.run({"show", bench.path("force.json"), "--json"}) == 0);
  CHECK(nlohmann::json::parse(bench.answer)["summary"].size() == 2);
}

TEST_CASE("calibrate show: a certificate edited by hand is refused", "[cli][fault]") {
  Bench bench;
  std::string text = bench.text_of("force.json");
  const size_t at = text.find("2026-11-01");
  REQUIRE(at != std::string::npos);
  text.replace(at, 10, "2026-11-02");
  std::ofstream(bench.path("edited.json")) << text;
  CHECK(bench.run({"show", bench.path("edited.json")}) == 3);
  CHECK(bench.answer.empty());
}
