// `springwright plan`: in which order to sweep two forks so that mounting and drift show.
#include <fmt/ostream.h>

#include <CLI/CLI.hpp>
#include <cmath>
#include <filesystem>
#include <string>
#include <vector>

#include "controller/cli/commands.hpp"
#include "controller/cli/options.hpp"
#include "controller/cli/setting_options.hpp"
#include "fitting/compare/mounts.hpp"
#include "protocol/record/fork_file.hpp"
#include "protocol/record/json_fields.hpp"
#include "protocol/units.hpp"

namespace controller::cli {
namespace {

namespace fs = std::filesystem;

using protocol::Result;

struct PlannedFork {
  std::string file;
  std::optional<double> pressure_gauge_Pa;
  std::optional<int> spacers;
};

struct PlanOptions {
  PlannedFork a;
  PlannedFork b;
  int mountings = 2;
  bool json = false;
};

struct PlannedSweep {
  char letter = 'a';
  std::string fork;
  int mounting = 1;
  std::string record;
  std::string command;
};

std::string record_name(const PlannedFork& fork, int mounting) {
  return fmt::format("sweeps/{}-mounting-{}.csv", fs::path(fork.file).stem().string(), mounting);
}

Result<std::vector<PlannedSweep>> plan(const PlanOptions& options) {
  const Result<protocol::Fork> a = protocol::load_fork(options.a.file);
  if (!a) return a.error();
  const Result<protocol::Fork> b = protocol::load_fork(options.b.file);
  if (!b) return b.error();
  std::vector<PlannedSweep> out;
  int mountings_a = 0;
  int mountings_b = 0;
  for (const char letter : fitting::mounting_order(options.mountings)) {
    const bool first = letter == 'a';
    const PlannedFork& fork = first ? options.a : options.b;
    const protocol::Fork& known = first ? *a : *b;
    PlannedSweep sweep{letter, known.name, first ? ++mountings_a : ++mountings_b, "", ""};
    sweep.record = record_name(fork, sweep.mounting);
    sweep.command = fmt::format("springwright sweep --fork {}", fork.file);
    if (protocol::has_air_spring(known.kind)) {
      const std::string pressure =
          fork.pressure_gauge_Pa
              ? fmt::format("{:.1f} psi", protocol::in_unit(*fork.pressure_gauge_Pa, "psi"))
              : "... psi";
      sweep.command +=
          fmt::format(" --pressure \"{}\" --spacers {}", pressure, fork.spacers.value_or(0));
    }
    sweep.command += fmt::format(" --mounting {} --out {}", sweep.mounting, sweep.record);
    out.push_back(std::move(sweep));
  }
  return out;
}

std::string compare_command(const PlanOptions& options) {
  std::string words = fmt::format("springwright compare {} {}", record_name(options.a, 1),
                                  record_name(options.b, 1));
  for (const auto& [option, fork] :
       {std::pair{"--again-a", &options.a}, {"--again-b", &options.b}}) {
    if (options.mountings > 1) words += fmt::format(" {}", option);
    for (int i = 2; i <= options.mountings; ++i) words += " " + record_name(*fork, i);
  }
  return words;
}

protocol::Json factor_json(int mountings) {
  const double factor = fitting::expanded_mount_factor(mountings);
  return std::isfinite(factor) ? protocol::Json(factor) : protocol::Json(nullptr);
}

void print_plan(const PlanOptions& options, const std::vector<PlannedSweep>& sweeps, double drift,
                Console& console) {
  fmt::print(console.out,
             "Take the fork out and mount it anew before each sweep, in this order:\n");
  for (const PlannedSweep& sweep : sweeps) {
    fmt::print(console.out, "  {} ({}, mounting {})\n      {}\n", sweep.letter == 'a' ? 'A' : 'B',
               sweep.fork, sweep.mounting, sweep.command);
  }
  fmt::print(console.out, "Then:\n      {}\n", compare_command(options));
  if (drift == 0.0) {
    fmt::print(console.out, "A drift that is even in time falls out of A - B.\n");
  } else {
    fmt::print(console.out,
               "Of a drift that is even in time, {:.2f} of its step from sweep to sweep stays in "
               "A - B; an even number of mountings leaves none.\n",
               std::abs(drift));
  }
  fmt::print(
      console.out,
      "If one mounting scatters by s, the difference of both means is then known to (95 %):\n");
  for (int each = 1; each <= std::max(4, options.mountings); ++each) {
    const double factor = fitting::expanded_mount_factor(each);
    const char* mark = each == options.mountings ? "   <- this plan" : "";
    if (std::isfinite(factor)) {
      fmt::print(console.out, "  {} mountings of each: {:.2f} s{}\n", each, factor, mark);
    } else {
      fmt::print(console.out, "  1 mounting of each: not known{}\n", mark);
    }
  }
}

Result<void> run_plan(const PlanOptions& options, Console& console) {
  const Result<std::vector<PlannedSweep>> sweeps = plan(options);
  if (!sweeps) return sweeps.error();
  const double drift = fitting::drift_left(fitting::mounting_order(options.mountings));
  if (options.json) {
    protocol::Json list = protocol::Json::array();
    for (const PlannedSweep& sweep : *sweeps) {
      list.push_back({{"fork", std::string(1, sweep.letter)},
                      {"fork_name", sweep.fork},
                      {"mounting", sweep.mounting},
                      {"record", sweep.record},
                      {"command", sweep.command}});
    }
    console.out << protocol::json_text(
        protocol::Json{{"sweeps", list},
                       {"then", compare_command(options)},
                       {"drift_left_in_steps", drift},
                       {"expanded_uncertainty_per_mount_scatter", factor_json(options.mountings)}});
    return {};
  }
  print_plan(options, *sweeps, drift, console);
  return {};
}

}  // namespace

void add_plan(Commands& commands) {
  auto [app, options] = commands.add<PlanOptions>(
      "plan", "In which order to sweep two forks, so that mounting anew and drift show.", run_plan);
  app.add_option("a", options.a.file, "The first fork's own file")
      ->required()
      ->type_name("FORK.toml");
  app.add_option("b", options.b.file, "The second's")->required()->type_name("FORK.toml");
  add_side_setting(app, 'a', options.a.pressure_gauge_Pa, options.a.spacers, "swept");
  add_side_setting(app, 'b', options.b.pressure_gauge_Pa, options.b.spacers, "swept");
  app.add_option("--mountings", options.mountings, "Of each fork [2]")
      ->check(CLI::Range(1, 20))
      ->type_name("N");
  add_json(app, options.json);
  add_examples(app, {"springwright plan forks/larch.toml forks/basalt.toml --pressure-a \"81 psi\" "
                     "--spacers-a 1 --pressure-b \"72 psi\" --spacers-b 1"});
}

}  // namespace controller::cli
