#include "fitting/report/figure_text.hpp"

#include <algorithm>
#include <cstdint>

namespace fitting {
namespace {

constexpr std::string_view kReplacement = "\xEF\xBF\xBD";

// Length of the UTF-8 sequence that starts at text[at]; 0 where it is broken, overlong, a surrogate
// or beyond U+10FFFF.
std::size_t sequence_length(std::string_view text, std::size_t at) {
  const auto byte = [&](std::size_t i) { return static_cast<uint8_t>(text[i]); };
  const uint8_t lead = byte(at);
  if (lead < 0x80) return 1;
  const std::size_t length = lead >= 0xF0 ? 4 : lead >= 0xE0 ? 3 : 2;
  if (lead < 0xC2 || lead > 0xF4 || at + length > text.size()) return 0;
  for (std::size_t i = 1; i < length; ++i) {
    if ((byte(at + i) & 0xC0) != 0x80) return 0;
  }
  const uint8_t next = byte(at + 1);
  if (lead == 0xE0 && next < 0xA0) return 0;
  if (lead == 0xED && next > 0x9F) return 0;
  if (lead == 0xF0 && next < 0x90) return 0;
  if (lead == 0xF4 && next > 0x8F) return 0;
  return length;
}

// Width of one character in units of the font size.
double relative_width(std::string_view character) {
  const char c = character.front();
  if (character.size() >= 3) return 1.0;
  if (character.size() == 2) return 0.68;
  constexpr std::string_view kNarrow = "ijl.,:;'|!() []{}/\\`";
  constexpr std::string_view kWide = "mwMW@%";
  if (kNarrow.find(c) != std::string_view::npos) return 0.38;
  if (kWide.find(c) != std::string_view::npos) return 0.97;
  if (c >= 'A' && c <= 'Z') return 0.72;
  return 0.63;
}

std::string shortened(const std::string& line, double width_px, double font_px, bool bold) {
  std::string text = line;
  while (!text.empty() && text_width_px(text + "…", font_px, bold) > width_px) {
    while (!text.empty() && (static_cast<uint8_t>(text.back()) & 0xC0) == 0x80) text.pop_back();
    if (!text.empty()) text.pop_back();
  }
  return text + "…";
}

std::string replaced(std::string text, std::string_view from, std::string_view to) {
  for (std::size_t at = text.find(from); at != std::string::npos;
       at = text.find(from, at + to.size())) {
    text.replace(at, from.size(), to);
  }
  return text;
}

}  // namespace

std::string one_line(std::string_view text) {
  std::string result;
  for (std::size_t at = 0; at < text.size();) {
    const std::size_t length = sequence_length(text, at);
    const auto lead = static_cast<uint8_t>(text[at]);
    if (length == 0) {
      result += kReplacement;
      ++at;
      continue;
    }
    const bool c1_control =
        length == 2 && lead == 0xC2 && static_cast<uint8_t>(text[at + 1]) < 0xA0;
    if (lead == '\n' || lead == '\r' || lead == '\t') {
      result += ' ';
    } else if (lead >= 0x20 && lead != 0x7F && !c1_control) {
      result.append(text.substr(at, length));
    }
    at += length;
  }
  // U+2028 and U+2029 break lines; U+FFFE and U+FFFF are no characters and no XML.
  result = replaced(std::move(result), "\xE2\x80\xA8", " ");
  result = replaced(std::move(result), "\xE2\x80\xA9", " ");
  result = replaced(std::move(result), "\xEF\xBF\xBE", kReplacement);
  return replaced(std::move(result), "\xEF\xBF\xBF", kReplacement);
}

std::string gnuplot_quoted(std::string_view text, Terminal terminal) {
  std::string inner = replaced(one_line(text), "'", "’");
  if (terminal == Terminal::svg) {
    inner = replaced(std::move(inner), "&#", "&#38;#");
    inner = replaced(std::move(inner), "]]>", "]]&#62;");
  }
  return "'" + inner + "'";
}

double text_width_px(std::string_view text, double font_px, bool bold) {
  double width = 0.0;
  for (std::size_t at = 0; at < text.size();) {
    const std::size_t length = std::max<std::size_t>(1, sequence_length(text, at));
    width += relative_width(text.substr(at, length));
    at += length;
  }
  return width * font_px * (bold ? 1.12 : 1.0);
}

std::vector<std::string> wrapped(std::string_view text, double width_px, double font_px, bool bold,
                                 std::size_t max_lines) {
  const std::string clean = one_line(text);
  std::vector<std::string> lines;
  std::string line;
  for (std::size_t at = 0; at < clean.size();) {
    const std::size_t space = std::min(clean.find(' ', at), clean.size());
    const std::string word = clean.substr(at, space - at);
    at = space + 1;
    if (word.empty()) continue;
    const std::string longer = line.empty() ? word : line + " " + word;
    if (!line.empty() && text_width_px(longer, font_px, bold) > width_px) {
      lines.push_back(line);
      line = word;
    } else {
      line = longer;
    }
  }
  if (!line.empty()) lines.push_back(line);
  if (lines.size() > max_lines) {
    lines.resize(max_lines);
    lines.back() += " …";
  }
  for (auto& each : lines) {
    if (text_width_px(each, font_px, bold) > width_px) {
      each = shortened(each, width_px, font_px, bold);
    }
  }
  return lines;
}

}  // namespace fitting
