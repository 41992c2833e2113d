// `springwright list`: what a workshop folder holds, and which records were interrupted or ruled
// out.
#include <fmt/ostream.h>

#include <CLI/CLI.hpp>
#include <algorithm>
#include <filesystem>
#include <string>
#include <vector>

#include "controller/cli/commands.hpp"
#include "controller/cli/options.hpp"
#include "protocol/record/file_system.hpp"
#include "protocol/record/metadata_json.hpp"
#include "protocol/record/record_reader.hpp"

namespace controller::cli {
namespace {

using protocol::Errc;
using protocol::Error;
using protocol::Json;
using protocol::Metadata;
using protocol::Result;
namespace fs = std::filesystem;

constexpr size_t kModelBytesMax = size_t{64} << 20;

struct ListOptions {
  std::string folder = ".";
  bool json = false;
};

// Files below the folder with one of the endings, by name.
std::vector<fs::path> files_below(const fs::path& folder, const std::string& ending) {
  std::vector<fs::path> paths;
  std::error_code code;
  for (fs::recursive_directory_iterator it(folder, code), end; !code && it != end;
       it.increment(code)) {
    if (it->is_regular_file(code) && it->path().extension() == ending) paths.push_back(it->path());
  }
  std::sort(paths.begin(), paths.end());
  return paths;
}

std::string state_word(const Metadata& metadata) {
  return metadata.state == protocol::RecordState::interrupted ? "interrupted" : "complete";
}

Json describe_record(const fs::path& path, const Metadata& metadata) {
  return {{"file", path.string()},
          {"record_id", metadata.record_id},
          {"created", metadata.created},
          {"origin", metadata.origin},
          {"fork", metadata.fork.name},
          {"pressure_gauge_Pa", metadata.setting.pressure_gauge_Pa},
          {"spacers", metadata.setting.spacers},
          {"state", state_word(metadata)},
          {"state_reason", metadata.state_reason},
          {"usable", metadata.unusable_reason.empty()},
          {"unusable_reason", metadata.unusable_reason},
          {"remarks", metadata.remarks}};
}

// The verdict that a model file carries; nothing where it cannot be read.
Json describe_model(const fs::path& path) {
  Json entry = {{"file", path.string()}};
  const Result<std::string> text = protocol::read_text_file(path, kModelBytesMax);
  if (!text) return entry;
  const Result<Json> model = protocol::parse_json(*text, path.string());
  if (model && model->is_object() && model->contains("usable"))
    entry["usable"] = (*model)["usable"];
  return entry;
}

Json describe_folder(const fs::path& folder) {
  Json answer = {{"folder", folder.string()},
                 {"records", Json::array()},
                 {"models", Json::array()},
                 {"reports", Json::array()},
                 {"unreadable", Json::array()}};
  for (const fs::path& path : files_below(folder / "sweeps", ".csv")) {
    const Result<Metadata> metadata = protocol::load_record_metadata(path);
    if (metadata) {
      answer["records"].push_back(describe_record(path, *metadata));
    } else {
      answer["unreadable"].push_back(
          {{"file", path.string()}, {"error", metadata.error().message}});
    }
  }
  for (const fs::path& path : files_below(folder / "models", ".json")) {
    answer["models"].push_back(describe_model(path));
  }
  for (const fs::path& path : files_below(folder / "reports", ".html")) {
    answer["reports"].push_back({{"file", path.string()}});
  }
  return answer;
}

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
  const Json answer = describe_folder(folder);
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
