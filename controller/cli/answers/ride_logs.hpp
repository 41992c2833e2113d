// Logs of rides as a command takes them: files, columns, and the sensor's zero.
#pragma once

#include <ostream>
#include <string>

#include "fitting/ride/ride_json.hpp"
#include "fitting/ride/trace.hpp"
#include "protocol/record/csv_import.hpp"

namespace CLI {
class App;
}

namespace controller::cli {

struct RideLogOptions {
  protocol::CsvImportOptions csv;
  std::string zero = "auto";
};

// --column, --separator, --decimal and --zero. The options must outlive the app.
void add_ride_log_options(CLI::App& app, RideLogOptions& options);

// What is asked of a log, as said.
struct RideQuestionWords {
  std::string bands;
  std::string quantiles;
};

// --bands and --quantiles. The words must outlive the app.
void add_ride_question_options(CLI::App& app, RideQuestionWords& words);

// ERRORS: usage for edges that do not ascend and shares that are none.
protocol::Result<fitting::RideQuestion> ride_question(const RideQuestionWords& words);

// ERRORS: usage for --zero, input_missing and input_malformed of the file, record_unusable as
// make_trace.
protocol::Result<fitting::RideTrace> load_ride(const std::string& path, double fork_travel_m,
                                               const RideLogOptions& options);

// What was found in the log, as notes.
void tell_remarks(const fitting::RideTrace& trace, std::ostream& to);

}  // namespace controller::cli
