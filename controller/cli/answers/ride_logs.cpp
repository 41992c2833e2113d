#include "controller/cli/answers/ride_logs.hpp"

#include <fmt/ostream.h>

#include <CLI/CLI.hpp>

#include "controller/cli/comma_list.hpp"
#include "controller/cli/workshop/csv_options.hpp"
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

void add_ride_question_options(CLI::App& app, RideQuestionWords& words) {
  app.add_option("--bands", words.bands,
                 "Edges of bands of travel, such as \"0 mm, 40 mm, 160 mm\" [thirds]")
      ->type_name("LIST");
  app.add_option("--quantiles", words.quantiles,
                 "Of the speed while going in and while coming out [\"0.5, 0.9, 0.99\"]")
      ->type_name("LIST");
}

Result<fitting::RideQuestion> ride_question(const RideQuestionWords& options) {
  fitting::RideQuestion out;
  for (const std::string& word : comma_list(options.bands)) {
    const Result<double> edge_m = protocol::parse_quantity(word, protocol::Dimension::length);
    const bool ascends =
        edge_m && *edge_m >= 0.0 && (out.band_edges_m.empty() || *edge_m > out.band_edges_m.back());
    if (!ascends) {
      return Error{Errc::usage, fmt::format("--bands: '{}' is not a travel beyond the one before "
                                            "it; say the edges such as \"0 mm, 40 mm, 160 mm\".",
                                            word)};
    }
    out.band_edges_m.push_back(*edge_m);
  }
  if (out.band_edges_m.size() == 1) {
    return Error{Errc::usage, "--bands: one edge makes no band; say two or more."};
  }
  if (!options.quantiles.empty()) out.speed_shares.clear();
  for (const std::string& word : comma_list(options.quantiles)) {
    const Result<double> share = protocol::parse_number(word);
    if (!share || !(*share > 0.0) || !(*share < 1.0)) {
      return Error{Errc::usage, fmt::format("--quantiles: '{}' is not a share between 0 and 1; say "
                                            "them such as \"0.5, 0.9, 0.99\".",
                                            word)};
    }
    out.speed_shares.push_back(*share);
  }
  return out;
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
