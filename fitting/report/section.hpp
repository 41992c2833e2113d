// A report as data: a list of sections, each a list of blocks. Whoever has something more to say
// adds a section; rendering, the files beside the report and their tests need no change.
#pragma once

#include <map>
#include <string>
#include <variant>
#include <vector>

#include "fitting/report/figure.hpp"

namespace fitting {

struct Paragraph {
  std::string text;
};

// A remark set apart: a caution is something that limits what the reader may conclude.
enum class NoteKind { remark, caution };
struct Note {
  NoteKind kind = NoteKind::remark;
  std::string text;
};

struct Bullets {
  std::vector<std::string> items;
};

enum class ColumnKind { text, number };
struct Column {
  std::string heading;
  ColumnKind kind = ColumnKind::number;
};

// Each row has one text for each column; the first cell of a row heads it.
struct Table {
  std::string name;  // file name without ending, as for a figure
  std::string caption;
  std::vector<Column> columns;
  std::vector<std::vector<std::string>> rows;
};

using Block = std::variant<Paragraph, Note, Bullets, Table, Figure>;

struct Section {
  std::string id;  // an anchor: lower-case letters, digits, '-'
  std::string heading;
  std::vector<Block> blocks;
};

// One sentence of the summary, and the section in which its numbers stand.
struct Finding {
  std::string sentence;
  std::string section_id;
};

// report: to be read, with room. certificate: to be filed, on one or two printed pages.
enum class PageStyle { report, certificate };

struct Report {
  std::string title;
  std::string subtitle;
  std::vector<Finding> summary;
  std::vector<std::string> cautions;  // right below the summary
  std::vector<Section> sections;
  std::string colophon;                        // which program, which day
  std::string kicker = "Springwright report";  // above the title
  PageStyle style = PageStyle::report;
};

// All figures in the order in which they appear.
std::vector<const Figure*> figures_of(const Report& report);

// SVG bytes by the figure's name. A full figure may be there a second time, drawn for phones.
using DrawnFigures = std::map<std::string, std::string>;

// The same figure at half the width, with letters that a phone shows at a readable size, under a
// name of its own.
Figure for_phones(const Figure& figure);

// One file that needs no other and no network. REQUIRES: every figure has been drawn.
std::string render_report(const Report& report, const DrawnFigures& drawn);

}  // namespace fitting
