// CSV text taken apart: quotes, line ends, places; and what RFC 4180 leaves out is refused.
#include <catch2/catch.hpp>

#include "protocol/record/csv_reader.hpp"

using namespace protocol;
using Catch::Matchers::Contains;

namespace {

// Lines as "a|b|c", joined by "/".
std::string taken_apart(std::string_view text, char separator = ',') {
  CsvReader reader(text, "t.csv", separator);
  std::vector<CsvField> fields;
  std::string result;
  Result<bool> more = false;
  while ((more = reader.next(fields)) && *more) {
    if (!result.empty()) result += "/";
    for (size_t i = 0; i < fields.size(); ++i) result += (i > 0 ? "|" : "") + fields[i].text;
  }
  return more ? result : "refused: " + more.error().message;
}

}  // namespace

TEST_CASE("csv: fields and lines come out as RFC 4180 says", "[protocol][oracle]") {
  // Source: [RFC4180] section 2, rules 1, 2, 5, 6 and 7, with the examples given there.
  struct Row {
    const char* text;
    const char* parts;
  };
  const auto row = GENERATE(values<Row>({
      {"aaa,bbb,ccc\r\nzzz,yyy,xxx\r\n", "aaa|bbb|ccc/zzz|yyy|xxx"},
      {"aaa,bbb,ccc\r\nzzz,yyy,xxx", "aaa|bbb|ccc/zzz|yyy|xxx"},
      {"\"aaa\",\"bbb\",\"ccc\"\r\nzzz,yyy,xxx", "aaa|bbb|ccc/zzz|yyy|xxx"},
      {"\"aaa\",\"b\r\nbb\",\"ccc\"\r\nzzz,yyy,xxx", "aaa|b\r\nbb|ccc/zzz|yyy|xxx"},
      {"\"aaa\",\"b\"\"bb\",\"ccc\"", "aaa|b\"bb|ccc"},
  }));
  CHECK(taken_apart(row.text) == row.parts);
}

TEST_CASE("csv: what files also do is understood", "[protocol]") {
  CHECK(taken_apart("a,b\nc,d\n") == "a|b/c|d");
  CHECK(taken_apart("\xEF\xBB\xBF\"a\",b\n") == "a|b");
  CHECK(taken_apart("a,b\n\n\r\n\n") == "a|b");
  CHECK(taken_apart("a,,\n") == "a||");
  CHECK(taken_apart("a;b,c\n", ';') == "a|b,c");
  CHECK(taken_apart("").empty());
  CHECK(taken_apart("\r\n\r\n").empty());
  CHECK(taken_apart("a\n\nb\n") == "a//b");
}

TEST_CASE("csv: what is not CSV is refused with its place", "[protocol]") {
  CHECK_THAT(taken_apart("a,b\nc,\"d\n"), Contains("t.csv:2:3: a quote that opens here"));
  CHECK_THAT(taken_apart("a,b\nc,d\"e\n"), Contains("t.csv:2:4: a quote in the middle"));
  CHECK_THAT(taken_apart("a,b\n\"c\"x,d\n"), Contains("t.csv:2:4: text behind"));
  CHECK_THAT(taken_apart("a,b\rc,d\r"), Contains("t.csv:1:4: a carriage return"));
}

TEST_CASE("csv: a field knows its line and column, also behind quoted line ends", "[protocol]") {
  CsvReader reader("a,b\r\n\"x\ny\",7,8\r\n9,10\r\n", "t.csv", ',');
  std::vector<CsvField> fields;
  REQUIRE(reader.next(fields).value());
  CHECK(reader.place(fields[1]) == "t.csv:1:3");
  REQUIRE(reader.next(fields).value());
  CHECK(reader.place(fields[0]) == "t.csv:2:1");
  CHECK(reader.place(fields[2]) == "t.csv:3:6");
  REQUIRE(reader.next(fields).value());
  CHECK(reader.place(fields[1]) == "t.csv:4:3");
  REQUIRE_FALSE(reader.next(fields).value());
}
