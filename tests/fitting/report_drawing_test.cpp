// What gnuplot really makes of our scripts.
#include <unistd.h>

#include <array>
#include <catch2/catch.hpp>
#include <filesystem>

#include "controller/cli/answers/gnuplot_runner.hpp"
#include "fitting/report/finished_svg.hpp"
#include "fitting/report/gnuplot_script.hpp"
#include "tests/fitting/page_check.hpp"

using namespace fitting;
using controller::cli::GnuplotOptions;
using controller::cli::run_gnuplot;

namespace fs = std::filesystem;

namespace {

Figure plain_figure() {
  Figure figure;
  figure.name = "plain";
  figure.title = "Force against travel";
  figure.alt = "A rising line.";
  figure.x = {"Travel", "mm"};
  Panel panel;
  panel.y = {"Force", "N"};
  panel.layers = {Band{"band", Tone::neutral, {0, 1}, {-1, 0}, {1, 2}},
                  Line{"Larch", Tone::first, {0, 1}, {0, 1}}, VerticalMarker{"sag", 0.5}};
  figure.panels = {panel};
  return figure;
}

// Big-endian at an offset, as PNG writes its width and height.
unsigned big_endian(const std::string& bytes, std::size_t at) {
  unsigned value = 0;
  for (std::size_t i = 0; i < 4; ++i) {
    value = value << 8 | static_cast<unsigned char>(bytes[at + i]);
  }
  return value;
}

}  // namespace

TEST_CASE("drawing: the three terminals give an SVG, a PNG of twice the size, and a PDF", "[fit]") {
  const auto svg = run_gnuplot(gnuplot_script(plain_figure(), Terminal::svg));
  REQUIRE(svg);
  CHECK(svg->find("<svg") != std::string::npos);
  CHECK(svg->find("width=\"720\"") != std::string::npos);
  CHECK(svg->find("<script") == std::string::npos);
  const auto png = run_gnuplot(gnuplot_script(plain_figure(), Terminal::png));
  REQUIRE(png);
  REQUIRE(png->size() > 24);
  CHECK(png->substr(1, 3) == "PNG");
  CHECK(big_endian(*png, 16) == 1440);
  const auto pdf = run_gnuplot(gnuplot_script(plain_figure(), Terminal::pdf));
  REQUIRE(pdf);
  CHECK(pdf->starts_with("%PDF-"));
}

TEST_CASE("drawing: a second run gives the same SVG, byte for byte", "[fit]") {
  const std::string script = gnuplot_script(plain_figure(), Terminal::svg);
  CHECK(run_gnuplot(script).value() == run_gnuplot(script).value());
}

TEST_CASE("drawing: names full of commands and markup run nothing and break nothing", "[fit]") {
  const fs::path bait = fs::temp_directory_path() / ("bait" + std::to_string(::getpid()));
  const std::string touch = "touch " + bait.string();
  const std::string name =
      GENERATE_COPY("`" + touch + "`", "\"`" + touch + "`\"", "'.system('" + touch + "').'",
                    "'\n!" + touch + "\nset title '", "'; system '" + touch + "' #",
                    "a''; system \"" + touch + "\" #", "''''; system(\"" + touch + "\") #",
                    "@" + touch, "$(" + touch + ")",
                    std::string("]]> &#0; &#zz; &lt;b> <script>alert(1)</script> </text></svg>"),
                    std::string("Bäsalt “Ünïcode” 日本 {/Symbol a} a_b^c ~x{.1-} %d %s \\ \\n \\"),
                    std::string("\xff\xfe broken \xC3"), std::string("ENDOFROWS\nEOF\nquit"));
  CAPTURE(name);
  Figure figure = plain_figure();
  figure.title = name;
  figure.subtitle = name;
  figure.alt = name;
  figure.x.label = name;
  figure.x.unit = name;
  figure.panels[0].y.label = name;
  std::get<Band>(figure.panels[0].layers[0]).label = name;
  std::get<Line>(figure.panels[0].layers[1]).label = name;
  std::get<VerticalMarker>(figure.panels[0].layers[2]).label = name;
  for (const Terminal terminal : {Terminal::svg, Terminal::png, Terminal::pdf}) {
    const auto drawing = run_gnuplot(gnuplot_script(figure, terminal));
    CAPTURE(drawing ? std::string() : drawing.error().message);
    REQUIRE(drawing);
    if (terminal == Terminal::svg) {
      CHECK(tests::check_file("xml", finished_svg(*drawing, figure)) == "");
    }
  }
  CHECK_FALSE(fs::exists(bait));
  fs::remove(bait);
}

TEST_CASE("drawing: the bait is taken where a script is careless, so the test can fail", "[fit]") {
  const fs::path bait = fs::temp_directory_path() / ("taken" + std::to_string(::getpid()));
  const auto drawing =
      run_gnuplot("set terminal svg\nset title \"`touch " + bait.string() + "`\"\nplot x\n");
  CHECK(drawing.has_value());
  CHECK(fs::exists(bait));
  fs::remove(bait);
}

TEST_CASE("drawing: an SVG is bold where it should be, and says what it shows", "[fit]") {
  Figure figure = plain_figure();
  figure.alt = "A <rising> line & more.";
  const auto raw = run_gnuplot(gnuplot_script(figure, Terminal::svg));
  REQUIRE(raw);
  const std::string svg = finished_svg(*raw, figure);
  CHECK(svg.find("sans-serif:Bold") == std::string::npos);
  CHECK(svg.find("font-family=\"sans-serif\" font-weight=\"bold\"") != std::string::npos);
  CHECK(svg.find("<title>Force against travel</title>") != std::string::npos);
  CHECK(svg.find("<desc>A &lt;rising&gt; line &amp; more.</desc>") != std::string::npos);
}

TEST_CASE("drawing: a missing gnuplot is named with the package that brings it", "[fit]") {
  GnuplotOptions options;
  options.program = "no-such-gnuplot";
  const auto drawing = run_gnuplot("plot x\n", options);
  REQUIRE_FALSE(drawing);
  CHECK(drawing.error().code == protocol::Errc::write_failed);
  CHECK_THAT(drawing.error().message,
             Catch::Matchers::Contains("no-such-gnuplot is not installed"));
  CHECK_THAT(drawing.error().message, Catch::Matchers::Contains("gnuplot-nox"));
}

TEST_CASE("drawing: what gnuplot complains of is in the message", "[fit][fault]") {
  const auto drawing = run_gnuplot("set terminal nonsense\n");
  REQUIRE_FALSE(drawing);
  CHECK(drawing.error().code == protocol::Errc::write_failed);
  CHECK_THAT(drawing.error().message, Catch::Matchers::Contains("unknown or ambiguous terminal"));
}

TEST_CASE("drawing: a script that draws nothing is an error", "[fit][fault]") {
  CHECK_FALSE(run_gnuplot("a = 1\n"));
}

TEST_CASE("drawing: gnuplot is stopped at its time limit", "[fit][fault]") {
  GnuplotOptions options;
  options.time_limit = std::chrono::milliseconds(200);
  const auto begin = std::chrono::steady_clock::now();
  const auto drawing = run_gnuplot("pause 60\n", options);
  REQUIRE_FALSE(drawing);
  CHECK_THAT(drawing.error().message, Catch::Matchers::Contains("0.2 s"));
  // Far below the minute that the script would take, however busy the machine is.
  CHECK(std::chrono::steady_clock::now() - begin < std::chrono::seconds(30));
}

TEST_CASE("drawing: many warnings and a large drawing block nothing", "[fit][fault]") {
  GnuplotOptions options;
  options.time_limit = std::chrono::seconds(60);
  std::string script = "set terminal svg\nset samples 20000\nplot x\n";
  for (int i = 0; i < 3000; ++i) script += "print 'a warning of some length'\n";
  const auto drawing = run_gnuplot(script, options);
  REQUIRE(drawing);
  CHECK(drawing->size() > 65536);
}
