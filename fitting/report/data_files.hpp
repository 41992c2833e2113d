// The numbers behind a report, for whoever doubts it: each figure's curves and each table as CSV,
// and all of it as one JSON text. Written from the figures themselves, so that no figure can lack
// its data.
#pragma once

#include <map>
#include <string>

#include "fitting/report/section.hpp"

namespace fitting {

// One row a point: panel,layer,kind,x,y,lower,upper; the panel is named by its axis and unit.
// Every row, thinned for drawing or not. RFC 4180, numbers with a decimal point.
std::string figure_csv(const Figure& figure);
std::string table_csv(const Table& table);

// File name -> content: NAME.csv for each figure and table.
std::map<std::string, std::string> report_csv_files(const Report& report);

// Summary, sections, tables and figures; curves as drawn, which is thinned to kDrawnRowsMax rows.
std::string report_json(const Report& report);

}  // namespace fitting
