#include "controller/cli/ride_logs.hpp"

#include <fmt/ostream.h>

#include <CLI/CLI.hpp>

#include "controller/cli/csv_options.hpp"
#include "protocol/record/file_system.hpp"
#include "protocol/units.hpp"

namespace controller::cli {
namespace {

using protocol::Errc;
using protocol::Error;
using protocol::Result;

constexpr size_t kBytesMax = size_t{256} << 20;

Result<fitting::TraceOptions> trace_options(const std::string& zero) {
  fitting::TraceOptions out;
  if (zero == "auto") return out;
  if (zero == "none") {
    out.zero = fitting::RideZero::none;
    return out;
  }
  const Result<double> said_m = protocol::parse_quantity(zero, protocol::Dimension::length);
  if (!said_m) {
    return Error{Errc::usage, fmt::format("--zero '{}': write auto, none, or what the sensor reads "
                                          "at full extension, such as \"12 mm\".",
                                          zero)};
  }
  out.zero = fitting::RideZero::given;
  out.zero_m = *said_m;
  return out;
}

}  // namespace

void add_ride_log_options(CLI::App& app, RideLogOptions& options) {
  options.csv.without_force = true;
  add_csv_options(app, options.csv);
  app.add_option("--zero", options.zero,
                 "What the sensor reads at full extension [auto: the least travel that is kept]")
      ->type_name("auto|none|\"N mm\"");
}

Result<fitting::RideTrace> load_ride(const std::string& path, double fork_travel_m,
                                     const RideLogOptions& options) {
  const Result<fitting::TraceOptions> trace = trace_options(options.zero);
  if (!trace) return trace.error();
  const Result<std::string> text = protocol::read_text_file(path, kBytesMax);
  if (!text) return text.error();
  Result<protocol::ImportedRows> rows =
      protocol::import_csv(*text, path, options.csv, protocol::Fork{});
  if (!rows) return rows.error();
  if (rows->time_s.empty()) {
    return Error{Errc::input_malformed,
                 fmt::format("{}:1:1: no column is the time, without which a ride says nothing; "
                             "name it time_s, or give --column time=NAME:s.",
                             path)};
  }
  return fitting::make_trace({path, std::move(rows->time_s), std::move(rows->travel_m)},
                             fork_travel_m, *trace);
}

void tell_remarks(const fitting::RideTrace& trace, std::ostream& to) {
  for (const std::string& remark : trace.remarks) {
    fmt::print(to, "Note: {}: {}.\n", trace.name, remark);
  }
}

}  // namespace controller::cli
