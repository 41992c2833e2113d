// `springwright ridden`: what logs of rides say of the travel that was used, side by side.
#include <fmt/ostream.h>

#include <CLI/CLI.hpp>
#include <cmath>
#include <string>
#include <vector>

#include "controller/cli/answers/figure_file.hpp"
#include "controller/cli/answers/ride_logs.hpp"
#include "controller/cli/commands.hpp"
#include "controller/cli/options.hpp"
#include "fitting/report/ridden_figures.hpp"
#include "fitting/ride/ride_json.hpp"
#include "protocol/record/fork_file.hpp"
#include "protocol/record/json_fields.hpp"

namespace controller::cli {
namespace {

using fitting::RideAnswer;
using protocol::Result;

struct RiddenOptions {
  std::vector<std::string> logs;
  std::string fork_file;
  std::string fork_b_file;
  RideLogOptions reading;
  RideQuestionWords asked;
  std::string figure_file;
  bool json = false;
};

// A row of the table: what, and each log's value.
class TablePrinter {
 public:
  TablePrinter(const std::vector<RideAnswer>& rides, Console& console)
      : rides_(rides), console_(console) {}

  template <class Value>
  void row(const std::string& what, const char* unit, int digits, Value value) {
    fmt::print(console_.out, "  {:<34}", what);
    for (const RideAnswer& ride : rides_) {
      const double number = value(ride);
      const std::string text =
          std::isfinite(number) ? fmt::format("{:.{}f} {}", number, digits, unit) : "never";
      fmt::print(console_.out, "{:>14}", text);
    }
    fmt::print(console_.out, "\n");
  }

 private:
  const std::vector<RideAnswer>& rides_;
  Console& console_;
};

void print_table(const std::vector<RideAnswer>& rides, Console& console) {
  for (std::size_t i = 0; i < rides.size(); ++i) {
    fmt::print(console.out, "{}: {}\n", i == 0 ? "a" : "b", rides[i].trace.name);
  }
  TablePrinter table(rides, console);
  table.row("time counted", "s", 1, [](const RideAnswer& r) { return r.summary.time_s; });
  table.row("mean travel", "mm", 1, [](const RideAnswer& r) { return 1e3 * r.summary.mean_m; });
  table.row("deepest travel", "mm", 1,
            [](const RideAnswer& r) { return 1e3 * r.summary.deepest_m; });
  table.row("moved in", "m", 1, [](const RideAnswer& r) { return r.summary.compressed_m; });
  table.row("moved out", "m", 1, [](const RideAnswer& r) { return r.summary.extended_m; });
  table.row("time standing still", "%", 1,
            [](const RideAnswer& r) { return 100.0 * r.summary.still_share; });
  for (std::size_t k = 0; k < rides.front().bands.size(); ++k) {
    const fitting::TravelBand& band = rides.front().bands[k];
    const bool own = rides.back().bands[k].to_m != band.to_m;
    const std::string what =
        own ? fmt::format("time in band {}", k + 1)
            : fmt::format("time from {:.0f} to {:.0f} mm", 1e3 * band.from_m, 1e3 * band.to_m);
    table.row(what, "%", 1, [k](const RideAnswer& r) { return 100.0 * r.bands[k].share; });
  }
  for (std::size_t k = 0; k < rides.front().speed_shares.size(); ++k) {
    const std::string share = fmt::format("{:g} %", 100.0 * rides.front().speed_shares[k]);
    table.row(share + " of going in slower than", "m/s", 2,
              [k](const RideAnswer& r) { return r.speeds.compression_m_s[k]; });
    table.row(share + " of coming out slower than", "m/s", 2,
              [k](const RideAnswer& r) { return r.speeds.extension_m_s[k]; });
  }
}

fitting::Figure make_figure(const std::vector<RideAnswer>& rides) {
  std::vector<fitting::LabelledRide> labelled;
  for (const RideAnswer& ride : rides) labelled.push_back({ride.trace.name, &ride});
  return fitting::time_beyond_figure(labelled, fitting::reader_units());
}

Result<std::vector<RideAnswer>> answer_all(const RiddenOptions& options,
                                           const fitting::RideQuestion& question) {
  std::vector<RideAnswer> out;
  for (std::size_t i = 0; i < options.logs.size(); ++i) {
    const bool own = i == 1 && !options.fork_b_file.empty();
    const Result<protocol::Fork> fork =
        protocol::load_fork(own ? options.fork_b_file : options.fork_file);
    if (!fork) return fork.error();
    Result<fitting::RideTrace> trace = load_ride(options.logs[i], fork->travel_m, options.reading);
    if (!trace) return trace.error();
    out.push_back(fitting::answer_ride(*std::move(trace), question));
  }
  return out;
}

Result<void> run_ridden(const RiddenOptions& options, Console& console) {
  const Result<fitting::RideQuestion> question = ride_question(options.asked);
  if (!question) return question.error();
  if (const Result<void> free = check_figure_file(options.figure_file); !free) return free.error();
  const Result<std::vector<RideAnswer>> rides = answer_all(options, *question);
  if (!rides) return rides.error();
  if (!options.figure_file.empty()) {
    const Result<void> drawn = write_figure(make_figure(*rides), options.figure_file);
    if (!drawn) return drawn.error();
  }
  if (options.json) {
    protocol::Json all = protocol::Json::array();
    for (const RideAnswer& ride : *rides) all.push_back(fitting::ride_json(ride));
    console.out << protocol::json_text({{"rides", all}});
    return {};
  }
  print_table(*rides, console);
  for (const RideAnswer& ride : *rides) tell_remarks(ride.trace, console.err);
  return {};
}

}  // namespace

void add_ridden(Commands& commands) {
  auto [app, options] = commands.add<RiddenOptions>(
      "ridden", "What logs of rides say: where in the travel the time was spent, and how fast.",
      run_ridden);
  app.add_option("logs", options.logs, "One log, or two to stand side by side; time and travel")
      ->required()
      ->expected(1, 2)
      ->type_name("LOG.csv");
  app.add_option("--fork", options.fork_file, "The fork's own file")
      ->required()
      ->type_name("FORK.toml");
  app.add_option("--fork-b", options.fork_b_file, "The second log's fork [the same]")
      ->type_name("FORK.toml");
  add_ride_question_options(app, options.asked);
  add_ride_log_options(app, options.reading);
  app.add_option("--figure", options.figure_file, "Draw the time beyond each travel, a new file")
      ->type_name("FILE.svg|.png|.pdf");
  add_json(app, options.json);
  add_examples(app, {"springwright ridden larch-ride.csv basalt-ride.csv --fork forks/larch.toml "
                     "--fork-b forks/basalt.toml",
                     "springwright ridden ride.csv --fork forks/larch.toml --column time=t:ms "
                     "--bands \"0 mm, 60 mm, 120 mm, 160 mm\" --json"});
}

}  // namespace controller::cli
