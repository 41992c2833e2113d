#include "controller/cli/workshop/library.hpp"

#include <algorithm>
#include <string>
#include <vector>

#include "controller/cli/answers/model_file.hpp"
#include "protocol/record/file_system.hpp"
#include "protocol/record/metadata_json.hpp"
#include "protocol/record/record_reader.hpp"

namespace controller::cli {

namespace fs = std::filesystem;

using protocol::Json;
using protocol::Metadata;
using protocol::Result;

namespace {

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

}  // namespace

Json describe_workshop(const fs::path& folder) {
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

}  // namespace controller::cli
