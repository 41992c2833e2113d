#include "controller/cli/usage_error.hpp"

#include <fmt/ostream.h>

#include <CLI/CLI.hpp>
#include <algorithm>
#include <numeric>
#include <vector>

#include "protocol/error.hpp"

namespace controller::cli {
namespace {

CLI::App& deepest_chosen(CLI::App& app) {
  const std::vector<CLI::App*> chosen = app.get_subcommands();
  return chosen.empty() ? app : deepest_chosen(*chosen.back());
}

// Levenshtein distance: insertions, deletions and replacements that make one word the other.
size_t distance(const std::string& one, const std::string& other) {
  std::vector<size_t> row(other.size() + 1);
  std::iota(row.begin(), row.end(), size_t{0});
  for (size_t i = 1; i <= one.size(); ++i) {
    size_t diagonal = row[0];
    row[0] = i;
    for (size_t j = 1; j <= other.size(); ++j) {
      const size_t replaced = diagonal + (one[i - 1] == other[j - 1] ? 0 : 1);
      diagonal = row[j];
      row[j] = std::min({row[j] + 1, row[j - 1] + 1, replaced});
    }
  }
  return row.back();
}

// The known word that is close enough to be what was meant, or nothing.
std::string nearest(const std::string& word, const std::vector<std::string>& known) {
  std::string best;
  size_t best_distance = 3;  // further than two letters away is another word
  for (const std::string& candidate : known) {
    const size_t d = distance(word, candidate);
    if (d < best_distance) {
      best_distance = d;
      best = candidate;
    }
  }
  return best;
}

std::vector<std::string> known_words(const CLI::App& app, bool options) {
  std::vector<std::string> words;
  if (options) {
    for (const CLI::Option* option : app.get_options()) {
      for (const std::string& name : option->get_lnames()) words.push_back("--" + name);
    }
  } else {
    for (const CLI::App* command : app.get_subcommands(nullptr))
      words.push_back(command->get_name());
  }
  return words;
}

// "--presure is not known here; did you mean --pressure?"
std::string about_unknown(CLI::App& app, const std::string& argument) {
  const std::string word = argument.substr(0, argument.find('='));
  const bool is_option = word.size() > 1 && word[0] == '-';
  const std::string guess = nearest(word, known_words(app, is_option));
  std::string text = is_option || app.get_subcommands(nullptr).empty()
                         ? fmt::format("'{}' is not known here", argument)
                         : fmt::format("there is no command '{}'", argument);
  return text + (guess.empty() ? "." : fmt::format("; did you mean '{}'?", guess));
}

}  // namespace

std::string command_words(const CLI::App& app) {
  return app.get_parent() ? command_words(*app.get_parent()) + " " + app.get_name()
                          : app.get_name();
}

int report_parse_error(CLI::App& root, const CLI::ParseError& error, std::ostream& out,
                       std::ostream& err) {
  if (error.get_exit_code() == 0) return root.exit(error, out, err);
  CLI::App& app = deepest_chosen(root);
  // An unknown word is the likelier cause than whatever is missing beside it.
  const std::vector<std::string> unknown = app.remaining(false);
  std::string message = error.what();
  if (!unknown.empty()) {
    message = about_unknown(app, unknown.front());
  } else if (!message.empty() && message.back() != '.' && message.back() != '?') {
    message += '.';
  }
  fmt::print(err, "springwright: {}\nSee \"{} --help\".\n", message, command_words(app));
  return static_cast<int>(protocol::ExitCode::usage);
}

}  // namespace controller::cli
