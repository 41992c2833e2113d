// Foreign CSV: the same loop in many dresses, and every way of not being one.
#include <fmt/format.h>

#include <algorithm>
#include <catch2/catch.hpp>
#include <random>

#include "protocol/record/csv_import.hpp"
#include "protocol/record/path_checks.hpp"
#include "tests/support/records.hpp"

using namespace protocol;
using Catch::Matchers::Contains;
using Catch::Matchers::StartsWith;
using Catch::Matchers::WithinRel;

namespace {

constexpr int kSteps = 50;
// From a pound-force to newtons, exact; see the tests of units.
constexpr double kPoundForce_N = 4.4482216152605;

// Up and down in 50 steps of 3 mm each; compression 20 N above the return.
struct Point {
  double time_s, travel_mm, force_N;
};
std::vector<Point> loop() {
  std::vector<Point> points;
  for (int i = 0; i <= 2 * kSteps; ++i) {
    const double travel_mm = 3.0 * (i <= kSteps ? i : 2 * kSteps - i);
    points.push_back({0.75 * i, travel_mm, 150.0 + 6.0 * travel_mm + (i <= kSteps ? 10 : -10)});
  }
  return points;
}

// A CSV text of the loop: `header`, then one line for each point.
template <class Print>
std::string csv(const std::string& header, Print print, const char* line_end = "\n") {
  std::string text = header + line_end;
  for (const Point& point : loop()) text += print(point) + line_end;
  return text;
}

std::string plain() {
  return csv("time_s,travel_mm,force_N", [](const Point& p) {
    return fmt::format("{},{},{}", p.time_s, p.travel_mm, p.force_N);
  });
}

std::string decimal_commas(std::string line) {
  std::replace(line.begin(), line.end(), '.', ',');
  return line;
}

std::string semicolons() {
  return csv("time_s;travel_mm;force_N", [](const Point& p) {
    return decimal_commas(fmt::format("{:.2f};{:.1f};{:.1f}", p.time_s, p.travel_mm, p.force_N));
  });
}

Result<ImportedRows> import(const std::string& text, const CsvImportOptions& options = {}) {
  return import_csv(text, "f.csv", options, test_support::larch());
}

std::string refusal(const std::string& text, Errc code, const CsvImportOptions& options = {}) {
  const Result<ImportedRows> rows = import(text, options);
  if (rows) return "not refused";
  CHECK(rows.error().code == code);
  return rows.error().message;
}

void check_is_loop(const Result<ImportedRows>& rows, bool with_time = true) {
  if (!rows) FAIL(rows.error().message);
  const std::vector<Point> points = loop();
  REQUIRE(rows->travel_m.size() == points.size());
  REQUIRE(rows->force_N.size() == points.size());
  REQUIRE(rows->time_s.size() == (with_time ? points.size() : 0));
  for (size_t i = 0; i < points.size(); ++i) {
    // Because a conversion and its way back round a few times each.
    CHECK(std::abs(rows->travel_m[i] - points[i].travel_mm * 1e-3) < 1e-15);
    CHECK_THAT(rows->force_N[i], WithinRel(points[i].force_N, 1e-14));
    if (with_time) CHECK_THAT(rows->time_s[i] + 1.0, WithinRel(points[i].time_s + 1.0, 1e-14));
  }
  CHECK(rows->remarks.empty());
}

// The plain file with line `number` (from 1) in place of what stood there.
std::string with_line(int number, const std::string& line) {
  const std::string text = plain();
  size_t start = 0;
  for (int i = 1; i < number; ++i) start = text.find('\n', start) + 1;
  std::string result = text;
  return result.replace(start, text.find('\n', start) - start, line);
}

}  // namespace

TEST_CASE("import: the same loop is read whatever its dress", "[protocol]") {
  check_is_loop(import(plain()));
  SECTION("without time") {
    check_is_loop(
        import(csv("travel_mm,force_N",
                   [](const Point& p) { return fmt::format("{},{}", p.travel_mm, p.force_N); })),
        false);
  }
  SECTION("inches and pounds, columns in another order, others between them, quotes, CR LF, BOM") {
    check_is_loop(import(csv(
        "\xEF\xBB\xBF\"force_lbf\",remark, travel_in ,time_min",
        [](const Point& p) {
          return fmt::format("\"{}\",\"slow, \"\"very\"\"\", {} ,{}", p.force_N / kPoundForce_N,
                             p.travel_mm / 25.4, p.time_s / 60.0);
        },
        "\r\n")));
  }
  SECTION("kilonewtons and metres, plus signs and exponents") {
    check_is_loop(import(csv("force_kN,travel_m,time_h", [](const Point& p) {
      return fmt::format("+{:.16e},{:.16e},{}", p.force_N / 1e3, p.travel_mm / 1e3,
                         p.time_s / 3600.0);
    })));
  }
  SECTION("columns named by the caller") {
    CsvImportOptions options;
    options.travel = CsvColumn{"s: Weg", "mm"};
    options.force = CsvColumn{"Kraft", "N"};
    options.time = CsvColumn{"t", "s"};
    check_is_loop(import(csv("t,force_N,Kraft,s: Weg",
                             [](const Point& p) {
                               return fmt::format("{},999,{},{}", p.time_s, p.force_N, p.travel_mm);
                             }),
                         options));
  }
  SECTION("semicolons and decimal commas, when told so") {
    CsvImportOptions options;
    options.separator = ';';
    options.decimal = ',';
    check_is_loop(import(semicolons(), options));
  }
  SECTION("tabs, when told so") {
    CsvImportOptions options;
    options.separator = '\t';
    std::string text = plain();
    std::replace(text.begin(), text.end(), ',', '\t');
    check_is_loop(import(text, options));
  }
  SECTION("a time column passed over") {
    CsvImportOptions options;
    options.without_time = true;
    check_is_loop(import(plain(), options), false);
  }
}

TEST_CASE("import: another separator or decimal mark is never misread", "[protocol]") {
  CHECK_THAT(refusal(semicolons(), Errc::input_malformed),
             StartsWith("f.csv:1:1: ") && Contains("--separator \";\" --decimal \",\""));
  CsvImportOptions semicolon;
  semicolon.separator = ';';
  CHECK_THAT(refusal(semicolons(), Errc::input_malformed, semicolon),
             StartsWith("f.csv:2:6: '0,0' is not a number") && Contains("--decimal \",\""));
  CHECK_THAT(refusal(plain(), Errc::input_malformed, semicolon),
             Contains("separated by \",\": give --separator \",\""));
  CsvImportOptions both = semicolon;
  both.decimal = ',';
  std::string thousands = semicolons();
  thousands.replace(thousands.find("0,75;3,0"), 8, "0,75;1.003,0");
  CHECK_THAT(refusal(thousands, Errc::input_malformed, both),
             StartsWith("f.csv:3:6: '1.003,0' is not a number"));
  // Decimal commas that are not quoted fall apart into more fields than the header has.
  std::string commas = semicolons();
  std::replace(commas.begin(), commas.end(), ';', ',');
  CHECK_THAT(refusal(commas, Errc::input_malformed),
             StartsWith("f.csv:2:") && Contains("6 fields, where the header has 3"));
  CsvImportOptions same;
  same.decimal = ',';
  CHECK_THAT(refusal(plain(), Errc::usage, same), Contains("cannot both separate"));
  CsvImportOptions odd;
  odd.decimal = 'x';
  CHECK_THAT(refusal(plain(), Errc::usage, odd), Contains("no decimal mark"));
  CHECK_THAT(refusal("\xFF\xFEt\0r", Errc::input_malformed), Contains("UTF-16"));
}

TEST_CASE("import: a column that is missing, unclear or in no known unit is refused",
          "[protocol]") {
  struct Row {
    const char* header;
    Errc code;
    const char* says;
  };
  const auto row = GENERATE(values<Row>({
      {"time_s,travel_mm,load_N", Errc::input_malformed, "no column is the force"},
      {"time_s,weg,force_N", Errc::input_malformed, "--column travel=NAME:mm"},
      {"travel_mm,travel_in,force_N", Errc::input_malformed, "both 'travel_mm' and 'travel_in'"},
      {"travel_mm,travel_mm,force_N", Errc::input_malformed, "both 'travel_mm' and 'travel_mm'"},
      {"time_s,travel_furlong,force_N", Errc::unit_unknown, "mm, cm, m, in"},
      {"time_s,travel,force_N", Errc::unit_unknown, "does not say its unit"},
      {"time_s,travel_psi,force_N", Errc::unit_wrong_dimension, "'psi', a pressure"},
      {"time_s,travel_mm,force_lb", Errc::unit_wrong_dimension, "N, kN, lbf, kgf"},
      {"time_us,travel_mm,force_N", Errc::unit_unknown, "--column time=none"},
      {"time_s,travel_mm,FORCE_N", Errc::input_malformed, "no column is the force"},
  }));
  CAPTURE(row.header);
  const std::string text = with_line(1, row.header);
  const std::string message = refusal(text, row.code);
  CHECK_THAT(message, StartsWith("f.csv:1:") && Contains(row.says));
}

TEST_CASE("import: columns named by the caller must be there, once, in their units", "[protocol]") {
  CsvImportOptions options;
  options.travel = CsvColumn{"Weg", "mm"};
  CHECK_THAT(refusal(plain(), Errc::input_malformed, options),
             Contains("no column 'Weg'") && Contains("'time_s', 'travel_mm', 'force_N'"));
  options.travel = CsvColumn{"travel_mm", "N"};
  CHECK_THAT(refusal(plain(), Errc::usage, options), Contains("mm, cm, m, in"));
  options.travel = CsvColumn{"travel_mm", "furlong"};
  CHECK_THAT(refusal(plain(), Errc::usage, options), Contains("'furlong'"));
  options.travel = CsvColumn{"travel_mm", "mm"};
  options.force = CsvColumn{"travel_mm", "N"};
  CHECK_THAT(refusal(plain(), Errc::usage, options), Contains("one column cannot be two"));
  options.force.reset();
  CHECK_THAT(refusal(with_line(1, "travel_mm,travel_mm,force_N"), Errc::input_malformed, options),
             Contains("more than one column 'travel_mm'"));
}

TEST_CASE("import: a bad field is refused with file, line and column", "[protocol]") {
  struct Row {
    const char* line;
    Errc code;
    const char* starts;
    const char* says;
  };
  const auto row = GENERATE(values<Row>({
      {"6,24,abc", Errc::input_malformed, "f.csv:10:6: ", "'abc' is not a number for column"},
      {"6,24,12N", Errc::input_malformed, "f.csv:10:6: ", "'12N' is not a number"},
      {"6,24,nan", Errc::input_malformed, "f.csv:10:6: ", "not a finite number"},
      {"6,24,NaN", Errc::input_malformed, "f.csv:10:6: ", "not a finite number"},
      {"6,inf,304", Errc::input_malformed, "f.csv:10:3: ", "not a finite number"},
      {"6,24,-inf", Errc::input_malformed, "f.csv:10:6: ", "not a finite number"},
      {"6,24,1e999", Errc::input_malformed, "f.csv:10:6: ", "number"},
      {"6,,304", Errc::input_malformed, "f.csv:10:3: ", "is empty"},
      {"6,0x18,304", Errc::input_malformed, "f.csv:10:3: ", "'0x18'"},
      {"6,24", Errc::input_malformed, "f.csv:10:3: ", "2 fields, where the header has 3"},
      {"6,24,304,1", Errc::input_malformed, "f.csv:10:10: ", "4 fields"},
      {"", Errc::input_malformed, "f.csv:10:1: ", "1 field, where"},
      {"1,24,304", Errc::record_unusable, "f.csv:10:1: ", "time goes back from 5.25 to 1 s"},
  }));
  CAPTURE(row.line);
  const std::string message = refusal(with_line(10, row.line), row.code);
  CHECK_THAT(message, StartsWith(row.starts) && Contains(row.says));
}

TEST_CASE("import: a file with too little in it is refused", "[protocol]") {
  CHECK_THAT(refusal("", Errc::input_malformed), Contains("f.csv:1:1: the file is empty"));
  CHECK_THAT(refusal("\n\n", Errc::input_malformed), Contains("empty"));
  CHECK_THAT(refusal("time_s,travel_mm,force_N\n", Errc::record_unusable), Contains("0 samples"));
  CHECK_THAT(refusal("time_s,travel_mm,force_N\n0,0,1\n1,2,3\n", Errc::record_unusable),
             Contains("2 samples are too few; at least 20"));
  CHECK_THAT(refusal(csv("travel_mm,force_N",
                         [](const Point& p) { return fmt::format("5,{}", p.force_N); }),
                     Errc::record_unusable),
             Contains("never changes"));
  CHECK_THAT(
      refusal(csv("time_s,travel_mm,force_N",
                  [](const Point& p) { return fmt::format("5,{},{}", p.travel_mm, p.force_N); }),
              Errc::record_unusable),
      Contains("time in column 'time_s' never advances"));
}

TEST_CASE("import: a one-way curve needs to be admitted, and a loop is not one", "[protocol]") {
  std::string one_way = "travel_mm,force_N\n";
  for (int i = 0; i < 30; ++i) one_way += fmt::format("{},{}\n", 5 * i, 150 + 30 * i);
  CHECK_THAT(refusal(one_way, Errc::record_unusable),
             Contains("never turns back") && Contains("--single-stroke"));
  CsvImportOptions single;
  single.single_stroke = true;
  const Result<ImportedRows> rows = import(one_way, single);
  REQUIRE(rows);
  CHECK(rows->travel_m.size() == 30);
  CHECK_THAT(refusal(plain(), Errc::record_unusable, single), Contains("turns back 1 time"));
}

TEST_CASE("import: wiggles are no reversals, turns are", "[protocol]") {
  CHECK(count_reversals({}, 1.0) == 0);
  CHECK(count_reversals(std::vector<double>{0, 5, 4.5, 9, 8.5, 10}, 1.0) == 0);
  CHECK(count_reversals(std::vector<double>{0, 10, 0}, 1.0) == 1);
  CHECK(count_reversals(std::vector<double>{10, 0, 10, 5}, 1.0) == 2);
  CHECK(count_reversals(std::vector<double>{5, 5.4, 0, 10, 9.5, 10, 0}, 1.0) == 2);
}

TEST_CASE("import: rows are the path and are never sorted", "[protocol]") {
  const Result<ImportedRows> rows = import(plain());
  REQUIRE(rows);
  CHECK_FALSE(std::is_sorted(rows->travel_m.begin(), rows->travel_m.end()));
  CHECK(*std::max_element(rows->travel_m.begin(), rows->travel_m.end()) == rows->travel_m[kSteps]);
}

TEST_CASE("import: what cannot be this fork is refused, what looks odd is remarked", "[protocol]") {
  const auto scaled = [](double travel, double force, double shift_mm = 0.0) {
    return csv("time_s,travel_mm,force_N", [=](const Point& p) {
      return fmt::format("{},{},{}", p.time_s, travel * p.travel_mm + shift_mm, force * p.force_N);
    });
  };
  CHECK_THAT(refusal(scaled(25.4, 1), Errc::input_out_of_range),
             Contains("reaches 3810 mm") && Contains("has 160 mm") && Contains("'mm'"));
  CHECK_THAT(refusal(scaled(1, 1000), Errc::input_out_of_range), Contains("is 'N' the right unit"));
  CHECK_THAT(refusal(scaled(1, -1), Errc::input_out_of_range), Contains("does not rise"));
  CHECK_THAT(refusal(scaled(-1, 1, 150), Errc::input_out_of_range), Contains("does not rise"));
  const auto remarks = [&](const std::string& text) {
    const Result<ImportedRows> rows = import(text);
    if (!rows) FAIL(rows.error().message);
    return fmt::format("{}", fmt::join(rows->remarks, " "));
  };
  CHECK(remarks(scaled(1.1, 1)).empty());
  CHECK_THAT(remarks(scaled(1.15, 1)), Contains("beyond the fork's 160.0 mm"));
  CHECK_THAT(remarks(scaled(1, 1, -12)), Contains("down to -12.0 mm"));
  CHECK_THAT(remarks(scaled(1 / 25.4, 1)), Contains("spans only 5.9"));
  CHECK_THAT(remarks(scaled(1, 1e-3)), Contains("largest force is only 1.06 N"));
}

TEST_CASE("import: no bytes make it fall over", "[protocol][property]") {
  // Mutations of a good file: each ends in rows or in a refusal that begins with the file's name.
  std::mt19937 random(20261125);
  const std::string alphabet = ",;\"\r\n.-+e0123456789naif \t\xEF\xBB\xBF" + std::string(1, '\0');
  for (int trial = 0; trial < 3000; ++trial) {
    std::string text = plain().substr(0, 200 + random() % 1500);
    for (auto change = random() % 6; change-- > 0;) {
      text[random() % text.size()] = alphabet[random() % alphabet.size()];
    }
    const Result<ImportedRows> rows = import(text);
    if (rows) {
      CHECK(rows->travel_m.size() == rows->force_N.size());
    } else {
      CAPTURE(trial);
      CHECK_THAT(rows.error().message, StartsWith("f.csv:"));
    }
  }
}
