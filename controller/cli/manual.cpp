// `springwright manual`: the manual page, in man's own markup, made of the very words of --help, so
// that it lacks no command and no option. For packaging; not shown among the commands.
#include <fmt/ostream.h>

#include <CLI/CLI.hpp>
#include <algorithm>

#include "controller/cli/commands.hpp"
#include "controller/cli/exit_codes.hpp"
#include "controller/cli/safety_words.hpp"
#include "controller/cli/usage_error.hpp"

namespace controller::cli {
namespace {

using protocol::Result;

struct ManualOptions {
  const CLI::App* root = nullptr;
};

// Text as man wants it: a backslash, a dash that can be copied, a dot or quote that begins a line.
std::string marked(const std::string& text) {
  std::string out;
  for (const char each : text) {
    if (each == '\\') {
      out += "\\e";
    } else if (each == '-') {
      out += "\\-";
    } else if ((each == '.' || each == '\'') && (out.empty() || out.back() == '\n')) {
      out += std::string("\\&") + each;
    } else {
      out += each;
    }
  }
  return out;
}

void print_options(const CLI::App& app, std::ostream& out) {
  for (const CLI::Option* option : app.get_options(nullptr)) {
    if (option->get_group().empty() || option->check_lname("help")) continue;
    const bool positional = option->get_positional();
    const std::string name = positional ? option->get_name(true) : option->get_name(false, true);
    // A check adds ":{...}" to what a value is called.
    const std::string type = option->get_type_name();
    const std::string value =
        option->get_items_expected_max() == 0 ? "" : type.substr(0, type.find(":{"));
    fmt::print(out, ".TP\n.B {}{}\n{}{}\n", marked(name),
               value.empty() ? "" : "\n.I " + marked(value), marked(option->get_description()),
               option->get_required() ? " (required)" : "");
  }
}

void print_footer(const CLI::App& app, std::ostream& out) {
  const std::string footer = app.get_footer();
  const size_t cautions = footer.find(kSafetyWords);
  const std::string examples = footer.substr(0, cautions);
  if (!examples.empty()) fmt::print(out, ".PP\n.nf\n{}\n.fi\n", marked(examples));
}

bool is_shown(const CLI::App* app) {
  return !app->get_name().empty() && !app->get_group().empty();
}

void print_command(const CLI::App& app, std::ostream& out) {
  const std::vector<const CLI::App*> below = app.get_subcommands(is_shown);
  if (below.empty()) {
    fmt::print(out, ".SS {}\n{}\n", marked(command_words(app)), marked(app.get_description()));
    print_options(app, out);
    print_footer(app, out);
  }
  for (const CLI::App* each : below) print_command(*each, out);
}

Result<void> run_manual(const ManualOptions& options, Console& console) {
  std::ostream& out = console.out;
  fmt::print(
      out,
      ".TH SPRINGWRIGHT 1 \"\" \"springwright {}\" \"User commands\"\n"
      ".SH NAME\nspringwright \\- measure, fit and compare bicycle suspension forks on the bench\n"
      ".SH SYNOPSIS\n.B springwright\n.RI [ OPTIONS ]\n.I COMMAND\n.RI [ ARGUMENTS ]\n"
      ".SH DESCRIPTION\n{}\n.PP\n{}\n.SH OPTIONS\n",
      SPRINGWRIGHT_VERSION, marked(options.root->get_description()), marked(kSafetyWords));
  print_options(*options.root, out);
  fmt::print(out, ".SH COMMANDS\n");
  for (const CLI::App* each : options.root->get_subcommands(is_shown)) print_command(*each, out);
  fmt::print(out, ".SH EXIT STATUS\n");
  for (const ExitCodeWords& each : kExitCodes) {
    fmt::print(out, ".TP\n.B {}\n{}\n", static_cast<int>(each.code), marked(each.meaning));
  }
  fmt::print(out,
             ".SH ENVIRONMENT\n.TP\n.B NO_COLOR\nNo output is coloured, with it or without.\n"
             ".TP\n.B TERM\nOn a terminal that is\n.I dumb\nthere is no progress bar.\n"
             ".SH FILES\n.TP\n.I bench.toml\nThe bench of the workshop folder that a command is "
             "called in, or of a folder above.\n"
             ".TP\n.I forks/ sweeps/ calibrations/ models/ reports/\nWhat the workshop holds.\n");
  return {};
}

}  // namespace

void add_manual(Commands& commands) {
  auto [app, options] =
      commands.add<ManualOptions>("manual", "Print the manual page, in man's markup.", run_manual);
  app.group("");
  options.root = &commands.root();
}

}  // namespace controller::cli
