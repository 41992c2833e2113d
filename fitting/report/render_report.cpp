// Turns a report into one HTML file; section.hpp says what a report is.
#include <algorithm>
#include <array>
#include <string>

#include "fitting/report/html.hpp"
#include "fitting/report/section.hpp"
#include "fitting/report/style_sheet.hpp"
#include "protocol/error.hpp"

namespace fitting {
namespace {

using html::Node;
using html::text_element;

constexpr std::string_view kTie = "\u00a0";  // a space that does not break
constexpr std::size_t kTiedHeadingMax = 15;

// Keeps a number and its unit, and a value and its uncertainty, on one line.
std::string tied(std::string text) {
  constexpr std::array<std::string_view, 12> kTiedUnits = {"N",  "mm",  "%",    "psi", "bar", "kg",
                                                           "°C", "cm³", "mm/s", "s",   "hPa", "J"};
  const auto is_unit_at = [&](std::size_t at) {
    return std::any_of(kTiedUnits.begin(), kTiedUnits.end(), [&](std::string_view unit) {
      if (text.compare(at, unit.size(), unit) != 0) return false;
      const std::size_t end = at + unit.size();
      return end == text.size() || std::string_view(" ,.;:)").find(text[end]) != std::string::npos;
    });
  };
  for (std::size_t at = text.find(' '); at != std::string::npos; at = text.find(' ', at + 1)) {
    const bool number_before = at > 0 && text[at - 1] >= '0' && text[at - 1] <= '9';
    const bool sign_before = at >= 2 && text.compare(at - 2, 2, "±") == 0;
    const bool sign_behind = text.compare(at + 1, 2, "±") == 0;
    if (sign_before || (number_before && (sign_behind || is_unit_at(at + 1)))) {
      text.replace(at, 1, kTie);
    }
  }
  return text;
}

Node paragraph(const Paragraph& block) {
  return text_element("p", tied(block.text));
}

Node note(const Note& block) {
  const bool caution = block.kind == NoteKind::caution;
  Node node = Node::element("p", {{"class", caution ? "note caution" : "note"}});
  if (caution) {
    node.add(text_element("strong", "Caution."));
    node.add(Node::text(" "));
  }
  node.add(Node::text(tied(block.text)));
  return node;
}

Node list(const Bullets& block) {
  Node node = Node::element("ul");
  for (const auto& item : block.items) node.add(text_element("li", tied(item)));
  return node;
}

std::vector<html::Attribute> cell_class(const Column& column) {
  if (column.kind == ColumnKind::number) return {{"class", "number"}};
  return {};
}

Node table_row(const Table& table, const std::vector<std::string>& cells) {
  ENSURE(cells.size() == table.columns.size());
  Node row = Node::element("tr");
  for (std::size_t i = 0; i < cells.size(); ++i) {
    auto attributes = cell_class(table.columns[i]);
    if (i == 0) attributes.emplace_back("scope", "row");
    row.add(text_element(i == 0 ? "th" : "td", cells[i], std::move(attributes)));
  }
  return row;
}

// A short heading keeps its unit beside it.
std::string tied_heading(std::string heading) {
  if (heading.size() > kTiedHeadingMax) return heading;
  for (std::size_t at = heading.find(' '); at != std::string::npos; at = heading.find(' ', at)) {
    heading.replace(at, 1, kTie);
  }
  return heading;
}

Node table(const Table& block) {
  Node head_row = Node::element("tr");
  for (const auto& column : block.columns) {
    auto attributes = cell_class(column);
    attributes.emplace_back("scope", "col");
    head_row.add(text_element("th", tied_heading(column.heading), std::move(attributes)));
  }
  Node body = Node::element("tbody");
  for (const auto& cells : block.rows) body.add(table_row(block, cells));
  Node content = Node::element("table");
  content.add(text_element("caption", block.caption));
  content.add(Node::element("thead", {}, {head_row}));
  content.add(std::move(body));
  // Reachable by keyboard, since it may scroll.
  Node scroll = Node::element(
      "div",
      {{"class", "scroll"}, {"tabindex", "0"}, {"role", "region"}, {"aria-label", block.caption}});
  scroll.add(std::move(content));
  return Node::element("div", {{"class", "table"}}, {std::move(scroll)});
}

std::string embedded(const std::string& svg) {
  return "data:image/svg+xml;base64," + html::base64(svg);
}

Node figure(const Figure& block, const DrawnFigures& drawn) {
  const auto found = drawn.find(block.name);
  ENSURE(found != drawn.end());
  Node picture = Node::element("picture");
  const auto narrow = drawn.find(for_phones(block).name);
  if (narrow != drawn.end()) {
    picture.add(Node::element(
        "source", {{"media", "(max-width: 38rem)"}, {"srcset", embedded(narrow->second)}}));
  }
  picture.add(Node::element("img", {{"alt", block.alt}, {"src", embedded(found->second)}}));
  const bool half = block.size == FigureSize::half;
  return Node::element("figure",
                       {{"id", "figure-" + block.name}, {"class", half ? "half" : "full"}},
                       {std::move(picture)});
}

const Figure* half_figure(const Block& block) {
  const auto* each = std::get_if<Figure>(&block);
  return each != nullptr && each->size == FigureSize::half ? each : nullptr;
}

Node section(const Section& section, const DrawnFigures& drawn) {
  Node node = Node::element("section", {{"id", section.id}});
  node.add(text_element("h2", section.heading));
  for (std::size_t i = 0; i < section.blocks.size(); ++i) {
    const Block& block = section.blocks[i];
    if (half_figure(block) != nullptr) {
      Node pair = Node::element("div", {{"class", "pair"}});
      for (; i < section.blocks.size() && half_figure(section.blocks[i]) != nullptr; ++i) {
        pair.add(figure(*half_figure(section.blocks[i]), drawn));
      }
      --i;
      node.add(std::move(pair));
    } else if (const auto* each = std::get_if<Figure>(&block)) {
      node.add(figure(*each, drawn));
    } else if (const auto* text = std::get_if<Paragraph>(&block)) {
      node.add(paragraph(*text));
    } else if (const auto* remark = std::get_if<Note>(&block)) {
      node.add(note(*remark));
    } else if (const auto* bullets = std::get_if<Bullets>(&block)) {
      node.add(list(*bullets));
    } else {
      node.add(table(std::get<Table>(block)));
    }
  }
  return node;
}

Node summary(const Report& report) {
  Node list = Node::element("ol");
  for (const auto& finding : report.summary) {
    const bool known =
        std::any_of(report.sections.begin(), report.sections.end(),
                    [&](const Section& each) { return each.id == finding.section_id; });
    ENSURE(known);
    Node item = Node::element("li");
    item.add(Node::text(tied(finding.sentence)));
    item.add(Node::text(" "));
    item.add(text_element("a", "numbers", {{"href", "#" + finding.section_id}}));
    list.add(std::move(item));
  }
  return Node::element("section", {{"class", "summary"}, {"aria-label", "Summary"}},
                       {text_element("h2", "In short"), std::move(list)});
}

Node contents(const Report& report) {
  Node node = Node::element("nav", {{"class", "toc"}, {"aria-label", "Sections"}});
  for (const auto& each : report.sections) {
    node.add(text_element("a", each.heading, {{"href", "#" + each.id}}));
    node.add(Node::text(" "));
  }
  return node;
}

Node head(const Report& report) {
  Node node = Node::element("head");
  node.add(Node::element("meta", {{"charset", "utf-8"}}));
  node.add(Node::element(
      "meta", {{"name", "viewport"}, {"content", "width=device-width, initial-scale=1"}}));
  // Nothing may be fetched and nothing may run, whatever a fork is called.
  node.add(Node::element(
      "meta", {{"http-equiv", "Content-Security-Policy"},
               {"content", "default-src 'none'; img-src data:; style-src 'unsafe-inline'"}}));
  node.add(text_element("title", report.title));
  node.add(Node::style(report_style_sheet()));
  if (report.style == PageStyle::certificate) node.add(Node::style(certificate_style_sheet()));
  return node;
}

}  // namespace

Figure for_phones(const Figure& figure) {
  Figure narrow = figure;
  narrow.name += "-narrow";
  narrow.size = FigureSize::half;
  return narrow;
}

std::vector<const Figure*> figures_of(const Report& report) {
  std::vector<const Figure*> figures;
  for (const auto& each : report.sections) {
    for (const auto& block : each.blocks) {
      if (const auto* found = std::get_if<Figure>(&block)) figures.push_back(found);
    }
  }
  return figures;
}

std::string render_report(const Report& report, const DrawnFigures& drawn) {
  Node content = Node::element("main");
  content.add(text_element("p", report.kicker, {{"class", "kicker"}}));
  content.add(text_element("h1", report.title));
  content.add(text_element("p", report.subtitle, {{"class", "subtitle"}}));
  content.add(summary(report));
  for (const auto& caution : report.cautions) content.add(note({NoteKind::caution, caution}));
  if (report.style == PageStyle::report) content.add(contents(report));
  for (const auto& each : report.sections) content.add(section(each, drawn));
  content.add(text_element("footer", report.colophon));
  return html::document(Node::element(
      "html", {{"lang", "en"}}, {head(report), Node::element("body", {}, {std::move(content)})}));
}

}  // namespace fitting
