// `springwright list`: what a workshop folder holds, and which records were interrupted or ruled
// out.
#include <fmt/ostream.h>

#include <CLI/CLI.hpp>
#include <filesystem>
#include <string>

#include "controller/cli/commands.hpp"
#include "controller/cli/options.hpp"
#include "controller/cli/workshop/library.hpp"
#include "protocol/record/file_system.hpp"

namespace controller::cli {
namespace {

using protocol::Errc;
using protocol::Error;
using protocol::Json;
using protocol::Result;
namespace fs = std::filesystem;

struct ListOptions {
  std::string folder = ".";
  bool json = false;
};

void print_records(const Json& answer, std::ostream& out) {
  fmt::print(out, "Records: {}\n", answer["records"].size());
  for (const Json& record : answer["records"]) {
    std::string note;
    if (record["state"] == "interrupted") {
      note += fmt::format("  INTERRUPTED: {}", record["state_reason"].get<std::string>());
    }
    if (!record["usable"].get<bool>()) {
      note += fmt::format("  UNUSABLE: {}", record["unusable_reason"].get<std::string>());
    }
    // A coil's record tells no pressure.
    const std::string setting =
        record["pressure_gauge_Pa"] == 0.0
            ? ""
            : fmt::format(", {:.1f} psi, {} spacer{}",
                          protocol::in_unit(record["pressure_gauge_Pa"].get<double>(), "psi"),
                          record["spacers"].get<int>(), record["spacers"] == 1 ? "" : "s");
    fmt::print(out, "  {}  {}{}{}\n", record["file"].get<std::string>(),
               record["fork"].get<std::string>(), setting, note);
  }
}

void print_others(const Json& answer, std::ostream& out) {
  fmt::print(out, "Models: {}\n", answer["models"].size());
  for (const Json& model : answer["models"]) {
    const bool unusable = model.contains("usable") && model["usable"] == false;
    fmt::print(out, "  {}{}\n", model["file"].get<std::string>(), unusable ? "  NOT USABLE" : "");
  }
  fmt::print(out, "Reports: {}\n", answer["reports"].size());
  for (const Json& report : answer["reports"]) {
    fmt::print(out, "  {}\n", report["file"].get<std::string>());
  }
  for (const Json& file : answer["unreadable"]) {
    fmt::print(out, "Not readable: {}\n", file["error"].get<std::string>());
  }
}

Result<void> run_list(const ListOptions& options, Console& console) {
  const fs::path folder = options.folder;
  if (!protocol::DiskFileSystem{}.exists(folder / "bench.toml")) {
    return Error{Errc::input_missing,
                 fmt::format("'{}' is not a workshop folder, it has no bench.toml; make one with "
                             "\"springwright init DIR\".",
                             folder.string())};
  }
  const Json answer = describe_workshop(folder);
  if (options.json) {
    console.out << protocol::json_text(answer);
  } else {
    print_records(answer, console.out);
    print_others(answer, console.out);
  }
  return {};
}

}  // namespace

void add_list(Commands& commands) {
  auto [app, options] = commands.add<ListOptions>(
      "list", "Show the records, models and reports of a workshop folder.", run_list);
  app.add_option("folder", options.folder, "The workshop folder [.]")->type_name("DIR");
  add_json(app, options.json);
  add_examples(app, {"springwright list", "springwright list workshop --json"});
}

}  // namespace controller::cli
