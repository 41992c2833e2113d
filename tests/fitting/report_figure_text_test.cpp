#include <catch2/catch.hpp>

#include "fitting/report/figure_text.hpp"

using namespace fitting;

TEST_CASE("figure text: a name becomes one line of valid UTF-8", "[fit]") {
  const auto [raw, clean] = GENERATE(table<std::string, std::string>({
      {"Larch 160", "Larch 160"},
      {"two\nlines\r\nand\ttabs", "two lines  and tabs"},
      {std::string("nul\0inside", 10), "nulinside"},
      {"bell\a escape\x1b delete\x7f", "bell escape delete"},
      {"Bäsalt “é” 日本", "Bäsalt “é” 日本"},
      {"broken \xC3 byte", "broken \xEF\xBF\xBD byte"},
      {"overlong \xC0\xAF slash", "overlong \xEF\xBF\xBD\xEF\xBF\xBD slash"},
      {"surrogate \xED\xA0\x80", "surrogate \xEF\xBF\xBD\xEF\xBF\xBD\xEF\xBF\xBD"},
      {"cut \xE2\x82", "cut \xEF\xBF\xBD\xEF\xBF\xBD"},
      {"line\xE2\x80\xA8separator", "line separator"},
      {"c1 \xC2\x85 control", "c1  control"},
  }));
  CAPTURE(raw);
  CHECK(one_line(raw) == clean);
}

TEST_CASE("figure text: a quoted text holds no quote that could end it, and nothing to substitute",
          "[fit]") {
  CHECK(gnuplot_quoted("Larch", Terminal::png) == "'Larch'");
  CHECK(gnuplot_quoted("it's", Terminal::png) == "'it’s'");
  CHECK(gnuplot_quoted("'; print 1; '", Terminal::pdf) == "'’; print 1; ’'");
  CHECK(gnuplot_quoted("`touch x`\n!ls", Terminal::svg) == "'`touch x` !ls'");
  CHECK(gnuplot_quoted("ends with \\", Terminal::svg) == "'ends with \\'");
}

TEST_CASE("figure text: for SVG what gnuplot would pass into the markup raw is referenced",
          "[fit]") {
  CHECK(gnuplot_quoted("&#x41;", Terminal::svg) == "'&#38;#x41;'");
  CHECK(gnuplot_quoted("a ]]> b", Terminal::svg) == "'a ]]&#62; b'");
  CHECK(gnuplot_quoted("&#x41; ]]>", Terminal::png) == "'&#x41; ]]>'");
}

TEST_CASE("figure text: width grows with the text, the size and the weight", "[fit]") {
  CHECK(text_width_px("", 13.0) == 0.0);
  CHECK(text_width_px("mm", 13.0) > text_width_px("ii", 13.0));
  CHECK_THAT(text_width_px("Travel", 26.0),
             Catch::Matchers::WithinRel(2.0 * text_width_px("Travel", 13.0), 1e-12));  // linear
  CHECK(text_width_px("Travel", 13.0, true) > text_width_px("Travel", 13.0));
  // An accented letter is one letter, not two bytes.
  CHECK(text_width_px("é", 13.0) < 1.3 * text_width_px("e", 13.0));
}

TEST_CASE("figure text: lines wrap at spaces and none is wider than its room", "[fit]") {
  const std::string text = "a rather long title that does not fit on one line of a small figure";
  const auto lines = wrapped(text, 200.0, 13.0, false, 10);
  REQUIRE(lines.size() > 2);
  std::string joined;
  for (const auto& line : lines) {
    CAPTURE(line);
    CHECK(text_width_px(line, 13.0) <= 200.0);
    joined += (joined.empty() ? "" : " ") + line;
  }
  CHECK(joined == text);
}

TEST_CASE("figure text: what does not fit is cut with an ellipsis, whole characters only",
          "[fit]") {
  const auto lines = wrapped("one two three four five six seven", 60.0, 13.0, false, 2);
  REQUIRE(lines.size() == 2);
  CHECK(lines.back().ends_with("…"));
  const auto accents =
      wrapped(std::string(30, 'x') + "éééééééééééééééééééé", 120.0, 13.0, false, 1);
  REQUIRE(accents.size() == 1);
  CHECK(accents.front().ends_with("…"));
  CHECK(one_line(accents.front()) == accents.front());
  CHECK(text_width_px(accents.front(), 13.0) <= 120.0);
}
