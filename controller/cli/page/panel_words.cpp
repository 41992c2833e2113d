#include "controller/cli/page/panel_words.hpp"

#include <fmt/format.h>

#include <algorithm>

namespace controller::cli {

namespace fs = std::filesystem;

using protocol::Errc;
using protocol::Error;
using protocol::Json;
using protocol::JsonFields;
using protocol::Result;

namespace {

class Words {
 public:
  Words(const fs::path& workshop, const std::string& what, const Json& how,
        std::vector<std::string> first)
      : workshop_(workshop), fields_(how, what) {
    work_.words = std::move(first);
  }

  // Where the answer goes.
  void ticket() { work_.ticket = fields_.text("ticket"); }
  // The flag where it is said to be so.
  void flag(const char* key) {
    if (fields_.maybe(key) != nullptr && fields_.boolean(key)) {
      work_.words.push_back(fmt::format("--{}", key));
    }
  }
  void word(const char* word) { work_.words.emplace_back(word); }
  void rig(const std::string& rig) {
    if (!rig.empty()) add_option("--rig", rig);
  }

  // An option for each of these that is said: "pressure" -> --pressure VALUE.
  void options(std::initializer_list<const char*> keys) {
    for (const char* key : keys) {
      std::string option = fmt::format("--{}", key);
      std::replace(option.begin(), option.end(), '_', '-');
      const Json* const value = fields_.maybe(key);
      if (value == nullptr) continue;
      if (value->is_number_integer()) {
        add_option(option, value->dump());
      } else {
        const std::string text = fields_.text(key);
        if (!text.empty()) add_option(option, text);
      }
    }
  }
  // Files of a folder; with an option, or one by one.
  void file(const char* key, const char* folder, const std::string& option = "") {
    add_file(fields_.text(key), folder, option);
  }
  void files(const char* key, const char* folder, const std::string& option = "") {
    if (!option.empty()) work_.words.push_back(option);
    for (const std::string& name : fields_.texts(key)) add_file(name, folder, "");
  }
  // What is to be written: a name for a new file or folder.
  void out(const char* folder, const std::string& ending) {
    const std::string name = fields_.text("name");
    const bool plain =
        !name.empty() && name.front() != '.' && name.find_first_of("/\\") == std::string::npos;
    if (!plain) {
      fields_.fail(Errc::usage, "name", "is a name without slashes, to be written under.");
      return;
    }
    add_option("--out", (folder_for(workshop_, folder) / (name + ending)).string());
    work_.writes = true;
  }

  Result<DeskWork> finish() {
    const Result<void> sound = fields_.finish();
    if (!sound) return sound.error();
    return work_;
  }

 private:
  // In one word, so that a value that begins with a dash is none of the options.
  void add_option(const std::string& option, const std::string& value) {
    work_.words.push_back(option + "=" + value);
  }
  void add_file(const std::string& name, const char* folder, const std::string& option) {
    const Result<fs::path> path = file_in(workshop_, folder, name);
    if (!path) return fields_.fail(path.error());
    if (option.empty()) {
      work_.words.push_back(path->string());
    } else {
      add_option(option, path->string());
    }
  }

  const fs::path& workshop_;
  JsonFields fields_;
  DeskWork work_;
};

}  // namespace

Result<fs::path> file_in(const fs::path& workshop, const std::string& folder,
                         const std::string& name) {
  std::error_code code;
  const fs::path root = fs::weakly_canonical(workshop / folder, code);
  const fs::path path = fs::weakly_canonical(root / name, code);
  const bool inside =
      !code &&
      std::mismatch(root.begin(), root.end(), path.begin(), path.end()).first == root.end();
  if (inside && path != root) return path;
  return Error{Errc::usage, fmt::format("There is no '{}' here.", name)};
}

fs::path folder_for(const fs::path& workshop, const std::string& folder) {
  // Where it cannot be made, whoever writes there says so.
  std::error_code ignored;
  fs::create_directories(workshop / folder, ignored);
  return workshop / folder;
}

Result<DeskWork> desk_work(const fs::path& workshop, const std::string& what, const Json& how) {
  Words words(workshop, what, how, {what});
  words.ticket();
  if (what == "predict") {
    words.file("model", "models");
    words.options({"pressure", "spacers", "temperature", "altitude", "vented_at", "vented_pressure",
                   "vented_temperature", "speed"});
  } else if (what == "compare") {
    words.file("a", "models");
    words.file("b", "models");
    words.options({"pressure_a", "spacers_a", "pressure_b", "spacers_b", "temperature", "altitude",
                   "vented_at", "load", "sag"});
  } else if (what == "fit") {
    words.files("records", "sweeps");
    words.out("models", ".json");
  } else if (what == "report") {
    words.file("a", "models", "--a");
    words.file("b", "models", "--b");
    words.files("records_a", "sweeps", "--records-a");
    words.files("records_b", "sweeps", "--records-b");
    words.options({"title", "load", "sag", "units"});
    words.out("reports", "");
  } else {
    return Error{Errc::usage, fmt::format("There is no '{}' here.", what)};
  }
  return words.finish();
}

Result<std::vector<std::string>> talk_words(const fs::path& workshop, const std::string& what,
                                            const std::string& rig, const Json& how) {
  constexpr std::string_view kCalibrate = "calibrate_";
  const std::string kind = what.substr(std::min(what.size(), kCalibrate.size()));
  Words words(workshop, what, how, {"calibrate", kind});
  if (what == "calibrate_check") {
    words.file("certificate", "calibrations");
    words.options({"load", "operator"});
  } else if (what == "calibrate_force" || what == "calibrate_travel" || what == "calibrate_frame") {
    words.word("--guided");
    words.options({"loads", "series", "weight_class", "operator", "standard"});
    words.flag("resume");
    words.out("calibrations", ".json");
  } else {
    return Error{Errc::usage, fmt::format("There is no '{}' here.", what)};
  }
  words.rig(rig);
  Result<DeskWork> said = words.finish();
  if (!said) return said.error();
  return std::move(said)->words;
}

}  // namespace controller::cli
