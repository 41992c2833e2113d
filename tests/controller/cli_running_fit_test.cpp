// The fit that runs beside a sweep: what "enough" means, what is told after each stroke and by
// whom, and when a sweep may end.
#include <catch2/catch.hpp>
#include <regex>
#include <thread>

#include "controller/cli/bench/enough.hpp"
#include "controller/cli/bench/running_fit.hpp"
#include "fitting/solve/fork_fit.hpp"
#include "tests/fitting/plant_records.hpp"

namespace {

namespace cli = controller::cli;
namespace virtual_rig = controller::virtual_rig;
using Catch::Matchers::Contains;
using Catch::Matchers::WithinAbs;
using Catch::Matchers::WithinRel;

// --- Enough -------------------------------------------------------------------------------------

TEST_CASE("enough: a quantity, a number and a unit", "[cli][fit]") {
  struct Row {
    const char* text;
    const char* name;
    double value;
    const char* unit;
  };
  const Row rows[] = {{"positive_volume 1 %", "positive_volume", 1.0, "%"},
                      {"positive_volume 0.5%", "positive_volume", 0.5, "%"},
                      {" positive_volume  4 cm3 ", "positive_volume", 4.0, "cm3"},
                      {"friction_mid_travel 0.5 N", "friction_mid_travel", 0.5, "N"},
                      {"friction_per_bar 2e-1 N/bar", "friction_per_bar", 0.2, "N/bar"},
                      {"damper_rebound 30 N s/m", "damper_rebound", 30.0, "N s/m"}};
  for (const Row& row : rows) {
    CAPTURE(row.text);
    const auto enough = cli::parse_enough(row.text);
    REQUIRE(enough);
    CHECK(enough->name == row.name);
    CHECK(enough->value == row.value);
    CHECK(enough->unit == row.unit);
  }
}

TEST_CASE("enough: what cannot be reached for is refused, with what there is", "[cli][fit]") {
  const std::pair<const char*, const char*> rows[] = {
      {"", "has no ''"},
      {"colour 1 %", "has no 'colour'"},
      {"positive_volume", "number above zero"},
      {"positive_volume %", "number above zero"},
      {"positive_volume 0 %", "number above zero"},
      {"positive_volume -1 %", "number above zero"},
      {"positive_volume 1e999 %", "number above zero"},
      {"positive_volume 1 2 %", "not '2 %'"},
      {"positive_volume 1", "in cm3 or %"},
      {"positive_volume 1 N", "in cm3 or %, not 'N'"}};
  for (const auto& [text, words] : rows) {
    CAPTURE(text);
    const auto enough = cli::parse_enough(text);
    REQUIRE_FALSE(enough);
    CHECK(enough.error().code == protocol::Errc::usage);
    CHECK_THAT(enough.error().message, Contains(words) && Contains("friction_mid_travel (N)"));
  }
}

fitting::FittedModel model_of(double volume_cm3, double total_cm3, double statistical_cm3) {
  fitting::FittedModel model;
  model.usable = true;
  fitting::FittedParameter volume;
  volume.name = "positive_volume";
  volume.unit = "cm3";
  volume.value = volume_cm3;
  volume.standard_uncertainty = total_cm3;
  volume.statistical_uncertainty = statistical_cm3;
  model.parameters.push_back(volume);
  return model;
}

TEST_CASE("enough: by the total uncertainty, of its own or relative", "[cli][fit]") {
  // 4 cm3 of 200 cm3 are 2 %; the 1 cm3 of noise alone would pass all of these.
  const fitting::FittedModel model = model_of(200.0, 4.0, 1.0);
  CHECK(cli::is_reached({"positive_volume", 2.01, "%"}, model));
  CHECK_FALSE(cli::is_reached({"positive_volume", 1.99, "%"}, model));
  CHECK(cli::is_reached({"positive_volume", 4.01, "cm3"}, model));
  CHECK_FALSE(cli::is_reached({"positive_volume", 3.99, "cm3"}, model));
  CHECK_FALSE(cli::is_reached({"negative_volume", 90.0, "%"}, model));
}

TEST_CASE("enough: what is not told is never enough", "[cli][fit]") {
  const cli::Enough enough{"positive_volume", 50.0, "%"};
  fitting::FittedModel model = model_of(200.0, 4.0, 1.0);
  REQUIRE(cli::is_reached(enough, model));
  model.parameters.front().status = fitting::ParameterStatus::not_determined;
  CHECK_FALSE(cli::is_reached(enough, model));
  CHECK_THAT(cli::how_well_known(enough, model), Contains("not known yet"));
  model = model_of(200.0, 4.0, 1.0);
  model.usable = false;
  CHECK_FALSE(cli::is_reached(enough, model));
  CHECK_FALSE(cli::is_reached(enough, fitting::FittedModel{}));
}

TEST_CASE("enough: says when more cycles would not help", "[cli][fit]") {
  // Without the noise sqrt(5^2 - 3^2) = 4 cm3 stay, 2 % of 200 cm3.
  const fitting::FittedModel model = model_of(200.0, 5.0, 3.0);
  const std::string hopeless = cli::how_well_known({"positive_volume", 1.9, "%"}, model);
  CHECK_THAT(hopeless, Contains("known to 2.5 %; wanted: 1.9 %"));
  CHECK_THAT(hopeless, Contains("More cycles do not help: 2 %"));
  CHECK_THAT(cli::how_well_known({"positive_volume", 2.1, "%"}, model), !Contains("do not help"));
}

// --- Beside a sweep -----------------------------------------------------------------------------

protocol::SweepRecord larch_sweep(int cycles) {
  virtual_rig::SweepProgram program;
  program.conditioning_cycles = 0;
  program.measuring_cycles = cycles;
  return plant_records::VirtualFork("larch_160").sweep(80.0, 1, 5, program);
}

// Plays a record to the running fit as a sweep would, and ends where that says so.
struct Played {
  std::vector<std::string> lines;
  bool told_elsewhere = false;
  int cycles = 0;
  bool was_enough = false;
  std::string why;
};

Played play(const protocol::SweepRecord& record, std::optional<cli::Enough> enough) {
  Played out;
  const auto caller = std::this_thread::get_id();
  const int strokes = record.stroke.back() + 1;
  cli::RunningFit running(record.metadata, {strokes, std::move(enough), true},
                          [&](const std::string& line) {
                            out.told_elsewhere |= std::this_thread::get_id() != caller;
                            out.lines.push_back(line);
                          });
  for (std::size_t i = 0; i < record.size() && !out.was_enough; ++i) {
    protocol::RecordRow row;
    row.time_s = record.time_s[i];
    row.stroke = record.stroke[i];
    row.travel_m = record.travel_m[i];
    row.force_N = record.force_N[i];
    running.row(row);
    const bool last = i + 1 == record.size();
    if (!last && record.stroke[i + 1] == row.stroke) continue;
    running.stroke_done({row.stroke, row.stroke % 2 == 0, false});
    if (row.stroke % 2 == 0) continue;
    ++out.cycles;
    out.was_enough = !last && running.enough(out.cycles);
  }
  out.why = running.why();
  running.finish();
  return out;
}

struct Line {
  int stroke = 0;
  double value = 0.0;
  double uncertainty = 0.0;
};

Line parse(const std::string& line) {
  const std::regex form(
      R"(stroke (\d+) of \d+: positive volume ([0-9.]+) \+- ([0-9.]+) cm3, friction mid travel [0-9.]+ \+- [0-9.]+ N)");
  std::smatch found;
  CAPTURE(line);
  REQUIRE(std::regex_match(line, found, form));
  return {std::stoi(found[1]), std::stod(found[2]), std::stod(found[3])};
}

TEST_CASE("running fit: tells after every cycle what the fit of the rows so far says",
          "[cli][fit]") {
  const protocol::SweepRecord record = larch_sweep(3);
  // Never reached, so that it waits for the fit at each cycle and goes to the end.
  const Played played = play(record, cli::Enough{"positive_volume", 1e-6, "%"});
  CHECK_FALSE(played.was_enough);
  CHECK_FALSE(played.told_elsewhere);
  // One for each cycle at least, one for each stroke but the first at most, and the last word.
  REQUIRE(played.lines.size() >= 4);
  REQUIRE(played.lines.size() <= 6);
  CHECK_THAT(played.lines.back(), Contains("More cycles do not help"));
  const Line last = parse(played.lines[played.lines.size() - 2]);
  CHECK(last.stroke == 6);
  const Line first = parse(played.lines.front());
  CHECK(first.uncertainty > last.uncertainty);

  // Few starts find the same place as the fit of the finished record.
  const auto fitted = fitting::fit_fork({record});
  REQUIRE(fitted);
  const auto* volume = cli::told(*fitted, "positive_volume");
  REQUIRE(volume);
  // A printed line has four digits of the value and two of the uncertainty.
  CHECK_THAT(last.value, WithinAbs(volume->value, 0.1 * volume->standard_uncertainty));
  CHECK_THAT(last.uncertainty, WithinRel(volume->standard_uncertainty, 0.1));
}

TEST_CASE("running fit: the sweep ends after the cycle at which enough is known", "[cli][fit]") {
  const protocol::SweepRecord record = larch_sweep(4);
  // One cycle leaves friction in doubt by nearly 3 N, two by 1.4 N: heat is told from friction by
  // the second.
  const cli::Enough enough{"friction_mid_travel", 2.0, "N"};
  const Played played = play(record, enough);
  CHECK(played.was_enough);
  CHECK(played.cycles == 2);
  CHECK_THAT(played.why, Contains("friction_mid_travel is known to 1.") && Contains("wanted: 2 N"));
  const Played again = play(record, enough);
  CHECK(again.cycles == played.cycles);
  CHECK(again.lines.back() == played.lines.back());
}

TEST_CASE("running fit: too little to fit is told as such, and is never enough", "[cli][fit]") {
  protocol::SweepRecord record = larch_sweep(2);
  for (double& travel_m : record.travel_m) travel_m *= 1e-4;
  const Played played = play(record, cli::Enough{"positive_volume", 90.0, "%"});
  CHECK_FALSE(played.was_enough);
  CHECK_THAT(played.lines.front(), Contains("nothing can be told yet"));
  CHECK_THAT(played.lines.back(), Contains("positive_volume is not known yet"));
}

TEST_CASE("running fit: leaves at once, with a fit under way or none", "[cli][fit]") {
  const protocol::SweepRecord record = larch_sweep(1);
  int told = 0;
  {
    cli::RunningFit idle(record.metadata, {2, {}, false}, [&](const std::string&) { ++told; });
    CHECK_FALSE(idle.enough(1));
  }
  {
    cli::RunningFit busy(record.metadata, {2, {}, false}, [&](const std::string&) { ++told; });
    for (std::size_t i = 0; i < record.size(); ++i) {
      protocol::RecordRow row;
      row.time_s = record.time_s[i];
      row.stroke = record.stroke[i];
      row.travel_m = record.travel_m[i];
      row.force_N = record.force_N[i];
      busy.row(row);
    }
    busy.stroke_done({1, false, false});
  }
  CHECK(told == 0);
}

}  // namespace
