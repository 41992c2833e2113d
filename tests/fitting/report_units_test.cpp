// The reader's units: factors against NIST SP 811 (2008) appendix B.8, and a report without a
// metric word in it.
#include <catch2/catch.hpp>
#include <regex>

#include "fitting/report/data_files.hpp"
#include "fitting/report/reader_units.hpp"
#include "tests/fitting/report_sample.hpp"

using namespace fitting;
using Catch::Matchers::WithinRel;

TEST_CASE("reader units: imperial factors are those of the tables", "[fit][oracle]") {
  // Source: [NISTSP811]
  const ReaderUnits units = reader_units(UnitSystem::imperial);
  struct Row {
    const UnitScale& scale;
    const char* unit;
    double si;
    double tolerance;  // half a digit of the tabulated factor, or exact
  };
  // SI value of one of each.
  const std::vector<Row> rows = {
      {units.travel, "in", 2.54e-2, 1e-12},        {units.force, "lbf", 4.448222, 2e-7},
      {units.rate, "lbf/in", 1.751268e2, 3e-7},    {units.volume, "in³", 1.638706e-5, 3e-7},
      {units.energy, "ft·lbf", 1.355818, 4e-7},    {units.slow_speed, "in/s", 2.54e-2, 1e-12},
      {units.ride_speed, "ft/s", 3.048e-1, 1e-12}, {units.distance, "ft", 3.048e-1, 1e-12},
      {units.mass, "lb", 4.535924e-1, 2e-7},       {units.ambient, "psi", 6.894757e3, 1e-7}};
  for (const Row& row : rows) {
    CAPTURE(row.unit);
    CHECK(row.scale.unit == row.unit);
    CHECK_THAT(row.scale.of(row.si), WithinRel(1.0, row.tolerance));
  }
  // Freezing and boiling point of water, by definition of the scale.
  CHECK_THAT(units.temperature.of(273.15), WithinRel(32.0, 1e-12));
  CHECK_THAT(units.temperature.of(373.15), WithinRel(212.0, 1e-12));
}

TEST_CASE("reader units: a number has the decimals that its unit deserves", "[fit]") {
  const ReaderUnits metric = reader_units();
  const ReaderUnits imperial = reader_units(UnitSystem::imperial);
  CHECK(metric.travel.text(0.0321, 1) == "32.1 mm");
  CHECK(imperial.travel.text(0.0321, 1) == "1.264 in");
  CHECK(metric.travel.doubtful(0.0612, 0.0015) == "61.2 ± 1.5 mm");
  CHECK(imperial.travel.doubtful(0.0612, 0.0015) == "2.409 ± 0.059 in");
  CHECK(metric.temperature.number(293.15, 1) == "20.0");
  CHECK(imperial.temperature.text(293.15, 1) == "68.0 °F");
  CHECK(metric.force.cells(12.34, 2.1) == std::pair<std::string, std::string>("12.3", "2.1"));
}

TEST_CASE("reader units: numbers that are in a metric unit already", "[fit]") {
  const ReaderUnits imperial = reader_units(UnitSystem::imperial);
  CHECK_THAT(scale_from(imperial, "mm").of(25.4), WithinRel(1.0, 1e-12));
  CHECK_THAT(scale_from(reader_units(), "cm3").of(205.0), WithinRel(205.0, 1e-12));
  CHECK(scale_from(imperial, "N/bar").unit == "N/bar");
  CHECK(scale_from(imperial, "N/bar").of(1.08) == 1.08);
  CHECK(scale_from(imperial, "1").unit.empty());
}

TEST_CASE("reader units: an imperial report has no metric number left", "[fit]") {
  ComparisonInput input = tests::sample_comparison();
  input.units = reader_units(UnitSystem::imperial);
  for (ComparedPair& pair : input.pairs) pair.curves = "slow springs";  // said by the sample
  const std::string json = report_json(make_comparison_report(input));
  // A number with a metric unit behind it, a column's heading, or an axis. Pressures are said in
  // both, and "5 mm" is part of a quantity's name.
  const std::regex metric(
      R"re((\d (mm|N|J|cm³|mm/s|m/s|N/mm|hPa|°C|g)\b)|(, (mm|N|J|cm³|mm/s|N/mm|hPa|g)")|("unit": "(mm|N|J)"))re");
  std::vector<std::string> found;
  for (std::sregex_iterator it(json.begin(), json.end(), metric), end; it != end; ++it) {
    const auto from = static_cast<std::size_t>(std::max<long>(0, it->position() - 40));
    found.push_back(json.substr(from, 60));
  }
  std::erase_if(found, [](const std::string& hit) { return hit.find("at 2 mm") != hit.npos; });
  std::erase_if(found, [](const std::string& hit) { return hit.find("at 5 mm") != hit.npos; });
  CAPTURE(found);
  CHECK(found.empty());
  // ... and the same report in metric has, so the search finds what it looks for.
  input.units = reader_units();
  CHECK(std::regex_search(report_json(make_comparison_report(input)), metric));
}
