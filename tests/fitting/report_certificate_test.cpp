// The certificate as a page: what has to stand on it, and that its numbers are the calibration's.
#include <catch2/catch.hpp>
#include <cmath>

#include "calibration/calibrate.hpp"
#include "calibration/performance/budget.hpp"
#include "fitting/report/certificate_numbers.hpp"
#include "fitting/report/certificate_report.hpp"
#include "tests/fitting/page_check.hpp"

using namespace fitting;
using calibration::Direction;
using calibration::Kind;
using Catch::Matchers::Contains;

namespace {

// Three series up and down on a cell of 80 counts per newton that reads a little more coming down.
calibration::ReadingSet force_readings() {
  calibration::ReadingSet set;
  set.kind = Kind::force;
  for (int series = 1; series <= 3; ++series) {
    for (int step = 0; step <= 16; ++step) {
      const bool down = step > 8;
      const double load_N = 250.0 * (down ? 16 - step : step);
      const double hysteresis = down ? 12.0 * std::sin(M_PI * load_N / 2000.0) : 0.0;
      const double scatter = 3.0 * std::sin(1.7 * step + 2.3 * series);
      set.readings.push_back({12000.0 + 80.0 * load_N + hysteresis + scatter,
                              load_N,
                              series,
                              down ? Direction::descending : Direction::ascending,
                              {},
                              0});
    }
  }
  set.particulars.rig_id = "bench 1";
  set.particulars.cell_id = "cell 7";
  set.particulars.operator_name = "R. Fell";
  set.particulars.date = "2026-11-25";
  set.particulars.valid_until = "2027-11-25";
  set.particulars.place = "workshop";
  set.particulars.temperature_K = 294.65;
  set.particulars.supersedes = "0123456789abcdef";
  set.particulars.standards = {{"transducer", "T-12", 0.0003, "", "2027-01-01"}};
  return set;
}

calibration::ReadingSet travel_readings() {
  calibration::ReadingSet set;
  set.kind = Kind::travel;
  for (int series = 1; series <= 3; ++series) {
    for (int step = 0; step <= 8; ++step) {
      const bool down = step > 4;
      const double steps = 8000.0 * (down ? 8 - step : step);
      const double scatter_m = 1e-6 * std::sin(1.1 * step + 1.9 * series);
      set.readings.push_back({steps,
                              2.5e-6 * steps + (down ? 2e-5 : 0.0) + scatter_m,
                              series,
                              down ? Direction::descending : Direction::ascending,
                              {},
                              0});
    }
  }
  set.particulars.date = "2026-11-25";
  return set;
}

calibration::ReadingSet frame_readings() {
  calibration::ReadingSet set;
  set.kind = Kind::frame;
  for (int series = 1; series <= 2; ++series) {
    for (int step = 1; step <= 6; ++step) {
      const double force_N = 250.0 * step;
      set.readings.push_back({force_N,
                              2e-7 * force_N + 1e-6 * std::sin(1.3 * step + series),
                              series,
                              Direction::ascending,
                              {},
                              0});
    }
  }
  set.particulars.date = "2026-11-25";
  return set;
}

calibration::Calibration made(const calibration::ReadingSet& set) {
  auto result = calibration::make_calibration(set);
  if (!result) FAIL(result.error().message);
  return *std::move(result);
}

std::string page_of(const calibration::Calibration& calibration) {
  const Report report = certificate_report(calibration);
  DrawnFigures drawn;
  for (const Figure* figure : figures_of(report)) {
    drawn[figure->name] = "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 1 1\"></svg>";
  }
  return render_report(report, drawn);
}

const Table& table_of(const Report& report, const std::string& name) {
  for (const Section& section : report.sections) {
    for (const Block& block : section.blocks) {
      const auto* table = std::get_if<Table>(&block);
      if (table != nullptr && table->name == name) return *table;
    }
  }
  FAIL("no table " + name);
  throw 0;
}

}  // namespace

TEST_CASE("certificate page: a strict reader takes it, for each kind", "[fit]") {
  for (const auto& set : {force_readings(), travel_readings(), frame_readings()}) {
    CAPTURE(calibration::kind_name(set.kind));
    CHECK(tests::check_file("page", page_of(made(set))) == "");
  }
}

TEST_CASE("certificate page: says what, who, when, where, with what, until when", "[fit]") {
  const calibration::Calibration calibration = made(force_readings());
  const std::string page = page_of(calibration);
  for (const char* words :
       {"Certificate of calibration", "cell 7", "bench 1", "R. Fell", "2026-11-25", "2027-11-25",
        "workshop", "21.5 °C", "transducer", "T-12", "2027-01-01", "0123456789ab", "0.030 %",
        "ISO 7500-1", "ASTM E74", "Hysteresis", "Creep was not measured", "No claim is made"}) {
    CAPTURE(words);
    CHECK_THAT(page, Contains(words));
  }
  CHECK_THAT(page, Contains(calibration.id));
  for (const char* claim : {"accredited", "compliant", "certified to"}) {
    CHECK_THAT(page, !Contains(claim));
  }
}

TEST_CASE("certificate page: every load has its row, up and down", "[fit]") {
  const calibration::Calibration calibration = made(force_readings());
  const Report report = certificate_report(calibration);
  const Table& results = table_of(report, "results");
  REQUIRE(results.rows.size() == 9);
  // The top is reached once in each series, and going up.
  CHECK(results.rows[8][2] == "–");
  // Hysteresis at half the range: 12 counts are 0.15 N, and the curve lies between.
  const double up_N = std::stod(results.rows[4][1]);
  const double down_N = std::stod(results.rows[4][2]);
  CHECK(down_N - up_N == Approx(12.0).margin(4.0));  // the scatter's mean, in counts
}

TEST_CASE("certificate page: the budget's last row is the budget's own answer", "[fit]") {
  const calibration::Calibration calibration = made(force_readings());
  const Report report = certificate_report(calibration);
  const Table& table = table_of(report, "budget");
  const calibration::Budget budget = calibration::budget_at(calibration, 1000.0);
  CHECK_THAT(table.caption, Contains("1000"));
  // Two digits are shown.
  CHECK(std::stod(table.rows.back()[5]) == Approx(budget.expanded_uncertainty).epsilon(0.05));
  CHECK(table.rows.size() == budget.lines.size() + 2);
}

TEST_CASE("certificate page: a certificate without a standard says so", "[fit]") {
  CHECK_THAT(page_of(made(travel_readings())), Contains("No standard is named"));
}

TEST_CASE("certificate page: names full of markup are shown, not obeyed", "[fit]") {
  calibration::ReadingSet set = force_readings();
  set.particulars.cell_id = "</td><script>alert(1)</script>";
  set.remarks = {"<b>bold</b> & more"};
  const std::string page = page_of(made(set));
  CHECK(tests::check_file("page", page) == "");
  CHECK_THAT(page, Contains("&lt;script&gt;"));
  CHECK_THAT(page, !Contains("<b>bold"));
}

TEST_CASE("certificate numbers: as many digits as the uncertainty has", "[fit]") {
  CHECK(shown_coefficient(0.01250034, 1.2e-7) == "1.250034 × 10⁻²");
  CHECK(shown_coefficient(-150.123456, 0.0123) == "−150.123");
  CHECK(shown_coefficient(3.0e-12, 4.0e-12) == "3.0 × 10⁻¹²");
  CHECK(shown_coefficient(0.0, 1e-9) == "0.000000");
  CHECK(shown_small(1.2345e-7) == "1.2 × 10⁻⁷");
  CHECK(shown_small(9.96e-8) == "1.0 × 10⁻⁷");
  CHECK(shown_small(0.0) == "0");
  CHECK(shown_small(1234.0) == "1234");
}
