// The options that say how a foreign CSV file is to be read: its columns, separator, decimal mark.
#pragma once

#include "protocol/record/csv_import.hpp"

namespace CLI {
class App;
}

namespace controller::cli {

// --column, --separator, --decimal. The options must outlive the app.
void add_csv_options(CLI::App& app, protocol::CsvImportOptions& csv);

}  // namespace controller::cli
