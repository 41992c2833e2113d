#include "controller/cli/commands.hpp"

#include <fmt/ostream.h>

#include <CLI/CLI.hpp>
#include <chrono>

#include "controller/cli/exit_codes.hpp"
#include "controller/cli/usage_error.hpp"
#include "controller/cli/workshop/workshop.hpp"

namespace controller::cli {

using protocol::Errc;
using protocol::Error;
using protocol::ExitCode;
using protocol::Result;

CLI::App& Commands::make_app(CLI::App& parent, const std::string& name,
                             const std::string& summary) {
  return *parent.add_subcommand(name, summary);
}

CLI::App& Commands::add_group(const std::string& name, const std::string& summary) {
  return make_app(root_, name, summary);
}

void Commands::add_volume(CLI::App& app) {
  CLI::Option* const quiet =
      app.add_flag("-q,--quiet", quiet_, "Say nothing but the answer and errors");
  app.add_flag("-v,--verbose", verbose_, "Say more of what is done")->excludes(quiet);
}

Result<void> Commands::run_chosen(Console& console) {
  console.verbose = verbose_;
  std::ostream nowhere(nullptr);
  Console hushed{console.out, nowhere, false, false, console.correspondent, true};
  for (const auto& command : commands_) {
    if (!command->app->parsed()) continue;
    if (const auto workshop = find_workshop(".")) {
      detail(console, fmt::format("In the workshop {}.", workshop->string()));
    }
    const auto begin = std::chrono::steady_clock::now();
    Result<void> done = command->run(quiet_ ? hushed : console);
    const std::chrono::duration<double> taken_s = std::chrono::steady_clock::now() - begin;
    detail(console, fmt::format("It took {:.2f} s.", taken_s.count()));
    return done;
  }
  const std::vector<CLI::App*> groups = root_.get_subcommands();
  const CLI::App& asked = groups.empty() ? root_ : *groups.front();
  return Error{Errc::usage, fmt::format("{} needs a command; see \"{} --help\".",
                                        command_words(asked), command_words(asked))};
}

void add_commands(Commands& commands) {
  add_init(commands);
  add_rig(commands);
  add_calibrate(commands);
  add_plan(commands);
  add_sweep(commands);
  add_import(commands);
  add_export(commands);
  add_list(commands);
  add_mark(commands);
  add_curve(commands);
  add_fit(commands);
  add_advise(commands);
  add_predict(commands);
  add_compare(commands);
  add_ridden(commands);
  add_report(commands);
  add_panel(commands);
  add_demo(commands);
  add_manual(commands);
  add_complete(commands);
}

void detail(Console& console, const std::string& line) {
  if (console.verbose) fmt::print(console.err, "{}\n", line);
}

void suggest(Console& console, const std::string& next) {
  if (console.err_is_terminal || console.correspondent != nullptr) {
    fmt::print(console.err, "Next: {}\n", next);
  }
}

int run_command_line(int argc, const char* const* argv, Console& console) {
  CLI::App root{"Measures, fits and compares bicycle suspension forks on the bench.",
                "springwright"};
  root.set_version_flag("--version", "springwright " SPRINGWRIGHT_VERSION);
  std::string codes;
  for (const ExitCodeWords& each : kExitCodes) {
    codes += fmt::format("{}{} {}", codes.empty() ? "" : ", ", static_cast<int>(each.code),
                         each.briefly);
  }
  root.footer(fmt::format("Exit codes: {}.", codes));
  root.require_subcommand(0, 1);
  Commands commands{root};
  add_commands(commands);
  try {
    root.parse(argc, argv);
  } catch (const CLI::ParseError& error) {
    return report_parse_error(root, error, console.out, console.err);
  }
  Result<void> result = commands.run_chosen(console);
  console.out.flush();
  if (result && !console.out) {
    result = Error{Errc::write_failed, "cannot write the answer to the standard output."};
  }
  if (result) return static_cast<int>(ExitCode::done);
  fmt::print(console.err, "springwright: {}\n", result.error().message);
  return static_cast<int>(protocol::exit_code(result.error().code));
}

}  // namespace controller::cli
