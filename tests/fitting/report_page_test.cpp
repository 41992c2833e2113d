// The whole report as a page, and the files beside it.
#include <catch2/catch.hpp>
#include <nlohmann/json.hpp>
#include <set>

#include "fitting/report/data_files.hpp"
#include "fitting/report/section.hpp"
#include "tests/fitting/page_check.hpp"
#include "tests/fitting/report_sample.hpp"

using namespace fitting;
using Catch::Matchers::Contains;

namespace {

// A drawing that need not be drawn.
DrawnFigures stand_ins(const Report& report) {
  DrawnFigures drawn;
  for (const Figure* figure : figures_of(report)) {
    drawn[figure->name] = "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 1 1\"></svg>";
  }
  return drawn;
}

const Report& sample_report() {
  static const Report report = make_comparison_report(tests::sample_comparison());
  return report;
}

std::size_t lines_in(const std::string& text) {
  return static_cast<std::size_t>(std::count(text.begin(), text.end(), '\n'));
}

}  // namespace

TEST_CASE("report page: one well-formed file that fetches and runs nothing", "[fit]") {
  const std::string page = render_report(sample_report(), stand_ins(sample_report()));
  CHECK(tests::check_file("page", page) == "");
  CHECK_THAT(page, Contains("<html lang=\"en\">"));
  CHECK_THAT(page, Contains("width=device-width"));
  CHECK_THAT(page, Contains("@page"));
}

TEST_CASE("report page: a phone gets full figures drawn for it", "[fit]") {
  DrawnFigures drawn = stand_ins(sample_report());
  const Figure narrow = for_phones(*figures_of(sample_report()).front());
  CHECK(narrow.size == FigureSize::half);
  drawn[narrow.name] = "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 2 2\"></svg>";
  const std::string page = render_report(sample_report(), drawn);
  CHECK(tests::check_file("page", page) == "");
  CHECK_THAT(page, Contains("<source media=\"(max-width: 38rem)\" srcset=\"data:image/svg+xml"));
}

TEST_CASE("report page: names full of markup are shown, not obeyed", "[fit]") {
  tests::SampleNames names;
  names.a = "<script>alert('a')</script> & \"Larch\"";
  names.b = "`touch x` Bäsalt </section> \xFF";
  names.title = "</title><img src=x onerror=alert(1)>";
  const Report report = make_comparison_report(tests::sample_comparison(names));
  const std::string page = render_report(report, stand_ins(report));
  CHECK(tests::check_file("page", page) == "");
  CHECK_THAT(page, Contains("&lt;script&gt;alert(&#39;a&#39;)&lt;/script&gt;"));
  CHECK_THAT(page, Contains("`touch x` Bäsalt"));
}

TEST_CASE("report page: the summary comes first and each sentence leads to its numbers", "[fit]") {
  const Report& report = sample_report();
  REQUIRE(report.summary.size() == 5);
  const std::string page = render_report(report, stand_ins(report));
  const std::size_t first_section = page.find("<section id=");
  for (const auto& finding : report.summary) {
    const std::size_t link = page.find("href=\"#" + finding.section_id + "\"");
    CHECK(link < first_section);
  }
}

TEST_CASE("report page: the method is last and states the ideal gas", "[fit]") {
  const Report& report = sample_report();
  CHECK(report.sections.back().id == "method");
  const std::string page = render_report(report, stand_ins(report));
  CHECK_THAT(page, Contains("0.1 to 0.6"));
  CHECK_THAT(page, Contains("ideal"));
}

TEST_CASE("report page: figures and tables have names of their own and good alternatives",
          "[fit]") {
  std::set<std::string> names;
  for (const auto& section : sample_report().sections) {
    for (const auto& block : section.blocks) {
      if (const auto* figure = std::get_if<Figure>(&block)) {
        CAPTURE(figure->name);
        CHECK(names.insert(figure->name).second);
        CHECK(figure->alt.size() > 80);
        CHECK_FALSE(figure->x.unit.empty());
        for (const auto& panel : figure->panels) CHECK_FALSE(panel.y.unit.empty());
      } else if (const auto* table = std::get_if<Table>(&block)) {
        CAPTURE(table->name);
        CHECK(names.insert(table->name).second);
        CHECK_FALSE(table->caption.empty());
        for (const auto& row : table->rows) CHECK(row.size() == table->columns.size());
      }
    }
  }
}

TEST_CASE("report page: a further section is an addition that needs nothing else", "[fit]") {
  Report report = sample_report();
  Figure figure;
  figure.name = "ridden";
  figure.title = "Where the time was spent";
  figure.alt = "Share of riding time beyond each travel, falling from all of it to none.";
  figure.x = {"Travel", "mm"};
  figure.panels = {{{"Time", "%"}, {Line{"Larch", Tone::first, {0, 100}, {100, 0}}}}};
  report.sections.insert(report.sections.end() - 1, {"ridden", "Ridden travel", {figure}});
  report.summary.push_back({"Larch was ridden to 100 mm.", "ridden"});
  CHECK(tests::check_file("page", render_report(report, stand_ins(report))) == "");
  CHECK(report_csv_files(report).count("ridden.csv") == 1);
}

TEST_CASE("report data: every figure and table has its rows beside the page", "[fit]") {
  const auto files = report_csv_files(sample_report());
  REQUIRE(files.count("compare-matched-sag.csv") == 1);
  REQUIRE(files.count("parameters-a.csv") == 1);
  REQUIRE(files.count("loop-a-1.csv") == 1);
  const std::string& loop = files.at("loop-a-1.csv");
  CHECK(loop.starts_with("panel,layer,kind,x,y,lower,upper\nForce (N),measured,line,"));
  // Four measured strokes of 731 rows, measured and simulated: undecimated.
  CHECK(lines_in(loop) >= 2 * (4 * 731 - 1));
}

TEST_CASE("report data: fields that need it are quoted, and none starts a formula", "[fit]") {
  Table table{"t", "c", {{"a, b"}, {"say \"so\""}}, {{"=1+1", "two\nlines"}, {"@x", "1.5"}}};
  CHECK(table_csv(table) == "\"a, b\",\"say \"\"so\"\"\"\n =1+1,two lines\n @x,1.5\n");
}

TEST_CASE("report data: the JSON holds summary, sections and curves", "[fit]") {
  const auto json = nlohmann::json::parse(report_json(sample_report()));
  CHECK(json["summary"].size() == 5);
  CHECK(json["title"] == "Larch 160 against Basalt 160");
  bool found = false;
  for (const auto& section : json["sections"]) {
    for (const auto& block : section["content"]) {
      if (block.contains("figure") && block["figure"] == "compare-matched-sag") {
        found = true;
        CHECK(block["x_axis"]["unit"] == "mm");
        CHECK(block["panels"].size() == 2);
        CHECK(block["csv"] == "compare-matched-sag.csv");
      }
    }
  }
  CHECK(found);
}
