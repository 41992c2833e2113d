// `springwright curve` and `springwright compare` as a user calls them, on imported records.
#include <catch2/catch.hpp>
#include <nlohmann/json.hpp>
#include <sstream>
#include <string>
#include <vector>

#include "tests/support/command_line.hpp"
#include "tests/support/records.hpp"
#include "tests/support/temporary_folder.hpp"

namespace {

using Catch::Matchers::Contains;
using Catch::Matchers::WithinAbs;

// Three cycles of 150 mm at 4 mm/s: offset + 6 N/mm, less `bend` where the travel passes 75 mm,
// and 10 N of friction.
std::string sweep_csv(double offset_N, double bend_N_mm) {
  std::string text = "time_s,travel_mm,force_N\n";
  for (int i = 0; i <= 1800; ++i) {
    const int place = i % 600;
    const double travel_mm = place <= 300 ? 0.5 * place : 0.5 * (600 - place);
    const bool compressing = i > 0 && (place > 0 && place <= 300);
    const double force_N = offset_N + 6.0 * travel_mm -
                           bend_N_mm * std::max(0.0, travel_mm - 75.0) +
                           (compressing || i == 0 ? 10.0 : -10.0);
    text += std::to_string(0.125 * i) + "," + std::to_string(travel_mm) + "," +
            std::to_string(force_N) + "\n";
  }
  return text;
}

class Workshop {
 public:
  Workshop() {
    test_support::write_all(folder_ / "larch.toml", test_support::kLarchToml);
    test_support::write_all(folder_ / "a.csv", sweep_csv(150.0, 0.0));
    test_support::write_all(folder_ / "b.csv", sweep_csv(120.0, -0.8));
    import("a");
    import("b");
  }

  std::string path(const std::string& name) const { return (folder_ / name).string(); }

  int run(const std::vector<std::string>& words) {
    const test_support::CommandRun done = test_support::run_words(words);
    answer = done.answer;
    complaint = done.complaint;
    return done.exit_code;
  }

  std::string record_a() const { return path("record-a.csv"); }
  std::string record_b() const { return path("record-b.csv"); }

  std::string answer;
  std::string complaint;

 private:
  void import(const std::string& name) {
    const int code = run({"import", path(name + ".csv"), "--fork", path("larch.toml"), "--pressure",
                          "81 psi", "--spacers", "1", "--out", path("record-" + name + ".csv")});
    INFO(complaint);
    REQUIRE(code == 0);
  }

  test_support::TemporaryFolder folder_;
};

}  // namespace

TEST_CASE("curve command: records in, quantities and curves out", "[cli]") {
  Workshop workshop;
  REQUIRE(workshop.run({"curve", workshop.record_a(), workshop.record_b(), "--json", "--load",
                        "450 N"}) == 0);
  const auto json = nlohmann::json::parse(workshop.answer);
  REQUIRE(json["curves"].size() == 2);
  const auto& quantities = json["curves"][0]["quantities"];
  // Because the file is a straight line without noise.
  CHECK_THAT(quantities["sag_mm"]["value"].get<double>(), WithinAbs(50.0, 0.05));
  CHECK_THAT(quantities["half_loop_mid_travel_N"]["value"].get<double>(), WithinAbs(10.0, 0.05));
  CHECK_THAT(quantities["rate_at_sag_N_per_mm"]["value"].get<double>(), WithinAbs(6.0, 0.05));
  CHECK(json["curves"][0]["strokes"].size() == 6);

  REQUIRE(workshop.run({"curve", workshop.record_a()}) == 0);
  CHECK_THAT(workshop.answer, Contains("Larch 160") && Contains("force_at_5_mm_N"));
}

TEST_CASE("curve command: a figure is drawn once, into a file of its kind", "[cli]") {
  Workshop workshop;
  const std::string figure = workshop.path("loop.svg");
  const int code = workshop.run({"curve", workshop.record_a(), "--figure", figure});
  INFO(workshop.complaint);
  REQUIRE(code == 0);
  const std::string svg = test_support::read_all(figure);
  CHECK_THAT(svg, Contains("<svg") && Contains("Larch 160"));
  CHECK(workshop.run({"curve", workshop.record_a(), "--figure", figure}) == 7);
  CHECK(test_support::read_all(figure) == svg);
  CHECK(workshop.run({"curve", workshop.record_a(), "--figure", workshop.path("loop.txt")}) == 2);
}

TEST_CASE("compare command: two records as tested, the crossing where it is", "[cli]") {
  Workshop workshop;
  REQUIRE(workshop.run({"compare", workshop.record_a(), workshop.record_b(), "--json", "--load",
                        "450 N"}) == 0);
  const auto json = nlohmann::json::parse(workshop.answer);
  // 30 N apart below 75 mm, then closing at 0.8 N/mm: they meet at 112.5 mm.
  REQUIRE(json["crossovers"].size() == 1);
  const double off_mm = json["crossovers"][0]["travel_mm"].get<double>() - 112.5;
  CHECK(std::abs(off_mm) < 0.1);
  CHECK(json["crossovers"][0]["standard_uncertainty_mm"].get<double>() > 1.0);
  REQUIRE(json["spans"].size() == 3);
  CHECK(json["spans"][0]["firmer"] == "a");
  CHECK(json["spans"][1]["firmer"] == "neither");
  CHECK(json["spans"][2]["firmer"] == "b");
  CHECK(json["thirds"].size() == 3);
  CHECK(json["matched_sag"]["matched"] == false);
  // 5 mm of sag apart: 50 mm and 55 mm.
  CHECK_THAT(json["matched_sag"]["as_tested_mismatch_mm"].get<double>(), WithinAbs(-5.0, 0.1));

  REQUIRE(workshop.run({"compare", workshop.record_a(), workshop.record_b(), "--load", "450 N"}) ==
          0);
  CHECK(workshop.answer.find("not the same sag") != std::string::npos);
  CHECK_THAT(workshop.answer, Contains("is firmer from 8 mm to"));

  REQUIRE(workshop.run({"compare", workshop.record_a(), workshop.record_a(), "--json"}) == 0);
  const auto same = nlohmann::json::parse(workshop.answer);
  REQUIRE(same["spans"].size() == 1);
  CHECK(same["spans"][0]["firmer"] == "neither");
  CHECK(same["crossovers"].empty());
}

TEST_CASE("curve and compare commands: each mistake has its exit code and its words", "[cli]") {
  Workshop workshop;
  const std::string a = workshop.record_a();
  const std::string b = workshop.record_b();
  test_support::write_all(workshop.path("broken.json"), "{\"format\": ");
  struct Row {
    std::vector<std::string> words;
    int code;
    const char* says;
  };
  const std::vector<Row> rows = {
      {{"curve", workshop.path("none.csv")}, 3, "none.csv"},
      {{"curve", a, "--load", "450"}, 2, "has no unit"},
      {{"compare", a}, 2, "b"},
      {{"compare", a, workshop.path("none.csv")}, 3, "none.csv"},
      {{"compare", a, workshop.path("none.json")}, 3, "none.json"},
      {{"compare", a, workshop.path("broken.json")}, 3, "broken.json"},
      {{"compare", a, b, "--pressure-a", "81 psi"}, 2, "as tested"},
      {{"compare", a, b, "--sag", "20"}, 2, "--sag"},
      {{"compare", a, b, "--sag", "120 %"}, 2, "--sag"},
      {{"compare", a, b, "--load", "-5 N"}, 2, "--load"},
      {{"compare", a, b, "--load", "430 N", "--rider-mass", "80 kg"}, 2, "one of them"},
      {{"compare", a, b, "--front-share", "45 %"}, 2, "--rider-mass"},
      {{"compare", a, b, "--rider-mass", "80 kg", "--head-angle", "5 deg"}, 2, "head angle"},
  };
  for (const Row& row : rows) {
    std::string line;
    for (const std::string& word : row.words) line += word + " ";
    CAPTURE(line);
    CHECK(workshop.run(row.words) == row.code);
    CHECK(workshop.answer.empty());
    CHECK_THAT(workshop.complaint, Contains(row.says));
  }
}

TEST_CASE("compare command: the load may come from a rider, with every figure said", "[cli]") {
  Workshop workshop;
  REQUIRE(workshop.run({"compare", workshop.record_a(), workshop.record_b(), "--json",
                        "--rider-mass", "80 kg", "--head-angle", "64 deg"}) == 0);
  const auto json = nlohmann::json::parse(workshop.answer);
  const std::string source = json["matched_sag"]["load_source"];
  CHECK_THAT(source, Contains("80.0 kg") && Contains("14.0 kg") && Contains("45 %") &&
                         Contains("2.5 kg") && Contains("64.0 deg"));
  // g sin 64 deg (0.45 x 94 kg - 2.5 kg)
  CHECK_THAT(json["matched_sag"]["load_N"].get<double>(),
             WithinAbs(9.80665 * std::sin(64.0 * 3.141592653589793 / 180.0) * 39.8, 1e-6));
}
