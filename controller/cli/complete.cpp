// `springwright complete -- WORDS`: what the last of the words could become: commands, options, and
// the workshop's forks, records, models and certificates. For the shell; not shown among the
// commands.
#include <fmt/ostream.h>

#include <CLI/CLI.hpp>
#include <algorithm>
#include <filesystem>
#include <set>

#include "controller/cli/commands.hpp"
#include "controller/cli/workshop/workshop.hpp"

namespace controller::cli {
namespace {

namespace fs = std::filesystem;
using protocol::Result;

struct CompleteOptions {
  const CLI::App* root = nullptr;
  std::vector<std::string> words;
};

bool begins(const std::string& word, const std::string& with) {
  return word.compare(0, with.size(), with) == 0;
}

// The command that the words have named so far, and the option whose value is begun, if any.
struct Place {
  const CLI::App* app;
  const CLI::Option* awaiting = nullptr;
};

Place place_of(const CLI::App& root, const std::vector<std::string>& before) {
  Place place{&root};
  for (const std::string& word : before) {
    place.awaiting = nullptr;
    if (begins(word, "-")) {
      const CLI::Option* option = place.app->get_option_no_throw(word);
      if (option != nullptr && option->get_items_expected_max() > 0) place.awaiting = option;
      continue;
    }
    const std::vector<const CLI::App*> below = place.app->get_subcommands(nullptr);
    const auto named = std::find_if(below.begin(), below.end(),
                                    [&](const CLI::App* each) { return each->get_name() == word; });
    if (named != below.end()) place.app = *named;
  }
  return place;
}

// Which kinds of file a value is: by what --help calls it.
void add_files(const std::string& type, const std::string& word, std::set<std::string>& found) {
  static const std::vector<std::tuple<std::string, std::string, std::string>> kKinds = {
      {"RECORD", "sweeps", ".csv"},
      {"FORK", "forks", ".toml"},
      {"MODEL", "models", ".json"},
      {"CERT", "calibrations", ".json"},
      {"OLD.json", "calibrations", ".json"}};
  const std::optional<fs::path> workshop = find_workshop(".");
  for (const auto& [kind, folder, ending] : kKinds) {
    if (!workshop || type.find(kind) == std::string::npos) continue;
    std::error_code code;
    for (const auto& entry : fs::directory_iterator(*workshop / folder, code)) {
      if (entry.path().extension() != ending) continue;
      const std::string name = fs::relative(entry.path(), ".", code).string();
      if (begins(name, word)) found.insert(name);
    }
  }
}

void add_values(const CLI::Option& option, const std::string& word, std::set<std::string>& found) {
  // A check adds ":{...}" to what a value is called.
  const std::string type = option.get_type_name().substr(0, option.get_type_name().find(":{"));
  add_files(type, word, found);
  // "metric|imperial": the words themselves.
  if (type.find('.') != std::string::npos || type.find('"') != std::string::npos) return;
  for (size_t at = 0; type.find('|') != std::string::npos && at <= type.size();) {
    const size_t end = std::min(type.find('|', at), type.size());
    const std::string one = type.substr(at, end - at);
    if (begins(one, word)) found.insert(one);
    at = end + 1;
  }
}

Result<void> run_complete(const CompleteOptions& options, Console& console) {
  std::vector<std::string> before = options.words;
  const std::string word = before.empty() ? "" : before.back();
  if (!before.empty()) before.pop_back();
  const Place place = place_of(*options.root, before);
  std::set<std::string> found;
  if (place.awaiting != nullptr) {
    add_values(*place.awaiting, word, found);
  } else if (begins(word, "-")) {
    for (const CLI::Option* option : place.app->get_options(nullptr)) {
      for (const std::string& name : option->get_lnames()) {
        if (begins("--" + name, word)) found.insert("--" + name);
      }
    }
  } else {
    for (const CLI::App* each : place.app->get_subcommands(nullptr)) {
      if (!each->get_group().empty() && begins(each->get_name(), word))
        found.insert(each->get_name());
    }
    for (const CLI::Option* option : place.app->get_options(nullptr)) {
      if (option->get_positional()) add_values(*option, word, found);
    }
  }
  for (const std::string& each : found) fmt::print(console.out, "{}\n", each);
  return {};
}

}  // namespace

void add_complete(Commands& commands) {
  auto [app, options] =
      commands.add<CompleteOptions>("complete", "Print what a word could become.", run_complete);
  app.group("");
  options.root = &commands.root();
  app.add_option("words", options.words, "The words so far, the last one unfinished");
}

}  // namespace controller::cli
