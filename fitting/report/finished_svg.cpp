#include "fitting/report/finished_svg.hpp"

#include <string_view>

#include "fitting/report/html.hpp"

namespace fitting {
namespace {

// Replaces what stands between the first opening and its closing tag.
void replace_content(std::string& svg, std::string_view tag, const std::string& content) {
  const std::string open = "<" + std::string(tag) + ">";
  const std::string close = "</" + std::string(tag) + ">";
  const std::size_t from = svg.find(open);
  const std::size_t to = svg.find(close, from);
  if (from == std::string::npos || to == std::string::npos) return;
  svg.replace(from + open.size(), to - from - open.size(), content);
}

}  // namespace

std::string finished_svg(std::string svg, const Figure& figure) {
  constexpr std::string_view kBold = "font-family=\"sans-serif:Bold\"";
  constexpr std::string_view kBetter = "font-family=\"sans-serif\" font-weight=\"bold\"";
  for (std::size_t at = svg.find(kBold); at != std::string::npos; at = svg.find(kBold, at)) {
    svg.replace(at, kBold.size(), kBetter);
  }
  replace_content(svg, "title", html::escaped(figure.title));
  replace_content(svg, "desc", html::escaped(figure.alt));
  return svg;
}

}  // namespace fitting
