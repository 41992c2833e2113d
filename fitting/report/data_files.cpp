#include "fitting/report/data_files.hpp"

#include <cmath>
#include <nlohmann/json.hpp>

#include "fitting/report/decimate.hpp"
#include "fitting/report/figure_text.hpp"
#include "fitting/report/gnuplot_script.hpp"
#include "protocol/units.hpp"

namespace fitting {
namespace {

// One layer's curve as columns; absent columns are null.
struct LayerData {
  std::string kind;
  std::string label;
  const std::vector<double>* x = nullptr;
  const std::vector<double>* y = nullptr;
  const std::vector<double>* lower = nullptr;
  const std::vector<double>* upper = nullptr;
};

struct Describe {
  LayerData operator()(const Line& line) const {
    return {"line", line.label, &line.x, &line.y, nullptr, nullptr};
  }
  LayerData operator()(const Points& points) const {
    return {"points", points.label, &points.x, &points.y, nullptr, nullptr};
  }
  LayerData operator()(const Band& band) const {
    return {"band", band.label, &band.x, nullptr, &band.lower, &band.upper};
  }
  LayerData operator()(const VerticalMarker& marker) const { return {"mark", marker.label}; }
  LayerData operator()(const HorizontalMarker& marker) const { return {"mark", marker.label}; }
  LayerData operator()(const SpanShade& span) const { return {"span", span.label}; }
};

std::string csv_field(const std::string& raw) {
  std::string text = one_line(raw);
  // A spreadsheet takes a field that begins so for a formula; a name never needs to.
  if (!text.empty() && std::string_view("=+@").find(text.front()) != std::string_view::npos) {
    text.insert(text.begin(), ' ');
  }
  if (text.find_first_of(",\"") == std::string::npos) return text;
  std::string quoted = "\"";
  for (char c : text) {
    if (c == '"') quoted += '"';
    quoted += c;
  }
  return quoted + "\"";
}

std::string csv_number(const std::vector<double>* column, std::size_t row) {
  if (column == nullptr || !std::isfinite((*column)[row])) return "";
  return protocol::number_text((*column)[row]);
}

nlohmann::json json_numbers(const std::vector<double>& values,
                            const std::vector<std::size_t>& rows) {
  nlohmann::json array = nlohmann::json::array();
  for (std::size_t row : rows) {
    if (std::isfinite(values[row])) {
      array.push_back(values[row]);
    } else {
      array.push_back(nullptr);
    }
  }
  return array;
}

nlohmann::json axis_json(const Axis& axis) {
  return {{"label", one_line(axis.label)}, {"unit", one_line(axis.unit)}};
}

nlohmann::json layer_json(const Layer& layer) {
  const LayerData data = std::visit(Describe{}, layer);
  nlohmann::json json = {{"kind", data.kind}, {"label", one_line(data.label)}};
  std::vector<const std::vector<double>*> columns;
  for (const auto* column : {data.x, data.y, data.lower, data.upper}) {
    if (column != nullptr) columns.push_back(column);
  }
  if (!columns.empty()) {
    const std::vector<std::size_t> rows = kept_rows(columns, kDrawnRowsMax);
    const auto put = [&](const char* name, const std::vector<double>* column) {
      if (column != nullptr) json[name] = json_numbers(*column, rows);
    };
    put("x", data.x);
    put("y", data.y);
    put("lower", data.lower);
    put("upper", data.upper);
    json["rows_in_csv"] = data.x->size();
  }
  if (const auto* vertical = std::get_if<VerticalMarker>(&layer)) json["x_at"] = vertical->at;
  if (const auto* horizontal = std::get_if<HorizontalMarker>(&layer)) json["y_at"] = horizontal->at;
  if (const auto* span = std::get_if<SpanShade>(&layer)) {
    json["x_from"] = span->from;
    json["x_to"] = span->to;
  }
  return json;
}

nlohmann::json figure_json(const Figure& figure) {
  nlohmann::json panels = nlohmann::json::array();
  for (const auto& panel : figure.panels) {
    nlohmann::json layers = nlohmann::json::array();
    for (const auto& layer : panel.layers) layers.push_back(layer_json(layer));
    panels.push_back({{"y_axis", axis_json(panel.y)}, {"layers", std::move(layers)}});
  }
  return {{"figure", figure.name},           {"csv", figure.name + ".csv"},
          {"title", one_line(figure.title)}, {"alternative_text", one_line(figure.alt)},
          {"x_axis", axis_json(figure.x)},   {"panels", std::move(panels)}};
}

nlohmann::json table_json(const Table& table) {
  nlohmann::json columns = nlohmann::json::array();
  for (const auto& column : table.columns) columns.push_back(one_line(column.heading));
  nlohmann::json rows = nlohmann::json::array();
  for (const auto& row : table.rows) {
    nlohmann::json cells = nlohmann::json::array();
    for (const auto& cell : row) cells.push_back(one_line(cell));
    rows.push_back(std::move(cells));
  }
  return {{"table", table.name},
          {"caption", one_line(table.caption)},
          {"columns", std::move(columns)},
          {"rows", std::move(rows)}};
}

struct BlockJson {
  nlohmann::json operator()(const Paragraph& block) const {
    return {{"sentence", one_line(block.text)}};
  }
  nlohmann::json operator()(const Note& block) const {
    return {{block.kind == NoteKind::caution ? "caution" : "remark", one_line(block.text)}};
  }
  nlohmann::json operator()(const Bullets& block) const {
    nlohmann::json items = nlohmann::json::array();
    for (const auto& item : block.items) items.push_back(one_line(item));
    return {{"list", std::move(items)}};
  }
  nlohmann::json operator()(const Table& block) const { return table_json(block); }
  nlohmann::json operator()(const Figure& block) const { return figure_json(block); }
};

}  // namespace

std::string figure_csv(const Figure& figure) {
  std::string csv = "panel,layer,kind,x,y,lower,upper\n";
  for (const auto& panel : figure.panels) {
    const std::string unit = panel.y.unit.empty() ? "" : " (" + panel.y.unit + ")";
    const std::string place = csv_field(panel.y.label + unit);
    for (const auto& layer : panel.layers) {
      const LayerData data = std::visit(Describe{}, layer);
      if (data.x == nullptr) continue;
      const std::string start = place + "," + csv_field(data.label) + "," + data.kind + ",";
      for (std::size_t row = 0; row < data.x->size(); ++row) {
        csv += start + csv_number(data.x, row) + "," + csv_number(data.y, row) + "," +
               csv_number(data.lower, row) + "," + csv_number(data.upper, row) + "\n";
      }
    }
  }
  return csv;
}

std::string table_csv(const Table& table) {
  const auto line = [](const auto& cells, const auto& text_of) {
    std::string text;
    for (std::size_t i = 0; i < cells.size(); ++i) {
      text += (i == 0 ? "" : ",") + csv_field(text_of(cells[i]));
    }
    return text + "\n";
  };
  std::string csv = line(table.columns, [](const Column& column) { return column.heading; });
  for (const auto& row : table.rows) {
    csv += line(row, [](const std::string& cell) { return cell; });
  }
  return csv;
}

std::map<std::string, std::string> report_csv_files(const Report& report) {
  std::map<std::string, std::string> files;
  for (const auto& section : report.sections) {
    for (const auto& block : section.blocks) {
      if (const auto* figure = std::get_if<Figure>(&block)) {
        files[figure->name + ".csv"] = figure_csv(*figure);
      } else if (const auto* table = std::get_if<Table>(&block)) {
        files[table->name + ".csv"] = table_csv(*table);
      }
    }
  }
  return files;
}

std::string report_json(const Report& report) {
  nlohmann::json summary = nlohmann::json::array();
  for (const auto& finding : report.summary) {
    summary.push_back({{"sentence", one_line(finding.sentence)}, {"section", finding.section_id}});
  }
  nlohmann::json cautions = nlohmann::json::array();
  for (const auto& caution : report.cautions) cautions.push_back(one_line(caution));
  nlohmann::json sections = nlohmann::json::array();
  for (const auto& section : report.sections) {
    nlohmann::json blocks = nlohmann::json::array();
    for (const auto& block : section.blocks) blocks.push_back(std::visit(BlockJson{}, block));
    sections.push_back({{"id", section.id},
                        {"heading", one_line(section.heading)},
                        {"content", std::move(blocks)}});
  }
  const nlohmann::json json = {
      {"format", "springwright-report"}, {"format_version", 1},
      {"title", one_line(report.title)}, {"subtitle", one_line(report.subtitle)},
      {"summary", std::move(summary)},   {"cautions", std::move(cautions)},
      {"sections", std::move(sections)}, {"colophon", one_line(report.colophon)}};
  return json.dump(1) + "\n";
}

}  // namespace fitting
