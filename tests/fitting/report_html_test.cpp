#include <catch2/catch.hpp>

#include "fitting/report/html.hpp"

using namespace fitting::html;

TEST_CASE("html: text and attributes are escaped by default", "[fit]") {
  std::string out;
  Node::element("p", {{"title", "a \"b\" <c> & 'd'"}}, {Node::text("<script>alert('x')</script>")})
      .write(out);
  CHECK(out ==
        "<p title=\"a &quot;b&quot; &lt;c&gt; &amp; &#39;d&#39;\">"
        "&lt;script&gt;alert(&#39;x&#39;)&lt;/script&gt;</p>");
}

TEST_CASE("html: empty elements close themselves, others get an end tag", "[fit]") {
  std::string out;
  Node::element("div", {}, {Node::element("img", {{"alt", ""}}), Node::element("p")}).write(out);
  CHECK(out == "<div><img alt=\"\" /><p></p></div>");
}

TEST_CASE("html: line breaks and control characters do not reach the page", "[fit]") {
  CHECK(escaped("a\nb\x01") == "a b");
}

TEST_CASE("html: base64 of the published vectors", "[fit][oracle]") {
  // Source: [RFC4648] section 10, test vectors of base64.
  const auto [bytes, text] = GENERATE(table<std::string, std::string>({
      {"", ""},
      {"f", "Zg=="},
      {"fo", "Zm8="},
      {"foo", "Zm9v"},
      {"foob", "Zm9vYg=="},
      {"fooba", "Zm9vYmE="},
      {"foobar", "Zm9vYmFy"},
  }));
  CHECK(base64(bytes) == text);
}

TEST_CASE("html: base64 carries every byte", "[fit]") {
  CHECK(base64(std::string("\x00\xFF\x80", 3)) == "AP+A");
  CHECK(base64("\xFB\xFF\xFE") == "+//+");
}
