#include "controller/cli/page/panel_services.hpp"

#include <fmt/format.h>

#include <algorithm>

#include "calibration/certificate.hpp"
#include "controller/cli/page/panel_words.hpp"
#include "controller/cli/safety_words.hpp"
#include "controller/cli/workshop/identity.hpp"
#include "controller/cli/workshop/library.hpp"
#include "controller/cli/workshop/workshop.hpp"
#include "protocol/record/file_system.hpp"
#include "protocol/record/fork_file.hpp"
#include "protocol/record/record_reader.hpp"
#include "protocol/units.hpp"

namespace controller::cli {

namespace fs = std::filesystem;

using protocol::Dimension;
using protocol::Errc;
using protocol::Error;
using protocol::Json;
using protocol::JsonFields;
using protocol::Result;

namespace {

// More than a screen has to draw, and no burden to send.
constexpr size_t kPointsMax = 2000;

// A quantity with its unit, as on the command line; `target` is left alone where it is not said.
void quantity(JsonFields& fields, const char* key, Dimension dimension,
              std::optional<double>& target) {
  const std::string said = fields.text_or_empty(key);
  if (said.empty()) return;
  const Result<double> value = protocol::parse_quantity(said, dimension);
  if (!value) return fields.fail(value.error());
  target = *value;
}

Error no_such(const std::string& what) {
  return {Errc::usage, fmt::format("There is no '{}' here.", what)};
}

}  // namespace

PanelServices::PanelServices(fs::path workshop, BenchOptions bench,
                             std::vector<virtual_rig::Fault> virtual_faults,
                             PanelBench::Publish publish)
    : workshop_(std::move(workshop)),
      options_(std::move(bench)),
      virtual_faults_(std::move(virtual_faults)),
      bench_(publish),
      desk_([publish](const Json& told) { publish(panel::Feed::state, told); }) {}

void PanelServices::operator_lost() {
  if (bench_.state().doing != "nothing") bench_.stop();
}

Json PanelServices::state() {
  Json state = {{"workshop", workshop_.string()},
                {"cautions", kSafetyWords},
                {"bench", bench_json(bench_.state())}};
  state.update(bench_.talk());
  return state;
}

// --- Questions ----------------------------------------------------------------------------------

Result<Json> PanelServices::look_up(const std::string& what, const Json& how) {
  if (what == "library") return describe_workshop(workshop_);
  if (what == "forks") return forks();
  if (what == "loop") return bench_.loop();
  if (what == "certificates") return certificates();
  if (what == "record") return record(how);
  if (what == "predict" || what == "compare") return put_on_desk(what, how);
  return no_such(what);
}

// The answer is told to every page, by its ticket.
Result<Json> PanelServices::put_on_desk(const std::string& what, const Json& how) {
  Result<DeskWork> work = desk_work(workshop_, what, how);
  if (!work) return work.error();
  const Result<void> put = desk_.put(std::move(work).value());
  if (!put) return put.error();
  return Json{{"begun", what}};
}

Result<Json> PanelServices::forks() const {
  return listed("forks", ".toml", [](const fs::path& path, Json& item) {
    const Result<protocol::Fork> fork = protocol::load_fork(path);
    if (!fork) {
      item["error"] = fork.error().message;
      return;
    }
    item["name"] = fork->name;
    item["travel_mm"] = fork->travel_m * 1e3;
    item["has_air_spring"] = protocol::has_air_spring(fork->kind);
    item["maximum_pressure_psi"] = protocol::in_unit(fork->maximum_pressure_Pa, "psi");
  });
}

Result<Json> PanelServices::certificates() const {
  return listed("calibrations", ".json", [](const fs::path& path, Json& item) {
    const auto loaded = calibration::load_certificate(path, today());
    if (!loaded) {
      item["error"] = loaded.error().message;
      return;
    }
    const calibration::Particulars& of = loaded->calibration.particulars;
    item["kind"] = calibration::kind_name(loaded->calibration.kind);
    item["date"] = of.date;
    item["valid_until"] = of.valid_until;
    item["warnings"] = loaded->warnings;
  });
}

// {FOLDER: [{"file", and what `describe` adds}, ...]} by name.
Json PanelServices::listed(const std::string& folder, const std::string& ending,
                           void (*describe)(const fs::path& path, Json& item)) const {
  Json list = Json::array();
  std::error_code code;
  for (const auto& entry : fs::directory_iterator(workshop_ / folder, code)) {
    if (entry.path().extension() != ending) continue;
    Json item = {{"file", entry.path().filename().string()}};
    describe(entry.path(), item);
    list.push_back(std::move(item));
  }
  std::sort(list.begin(), list.end(),
            [](const Json& a, const Json& b) { return a["file"] < b["file"]; });
  return Json{{folder, std::move(list)}};
}

Result<Json> PanelServices::record(const Json& how) const {
  JsonFields fields(how, "record");
  const std::string name = fields.text("file");
  const Result<void> sound = fields.finish();
  if (!sound) return sound.error();
  const Result<fs::path> path = file_in(workshop_, "sweeps", name);
  if (!path) return path.error();
  const auto record = protocol::load_record(*path, protocol::UnusableRecords::accept);
  if (!record) return record.error();
  const size_t step = record->size() / kPointsMax + 1;
  Json points = Json::array();
  for (size_t i = 0; i < record->size(); i += step) {
    const int stroke = record->stroke.empty() ? 0 : record->stroke[i];
    points.push_back({record->travel_m[i] * 1e3, record->force_N[i], stroke});
  }
  return Json{{"fork", record->metadata.fork.name},
              {"rows", record->size()},
              {"remarks", record->metadata.remarks},
              {"points", std::move(points)}};
}

Result<std::string> PanelServices::document(const std::string& name) {
  const Result<fs::path> path = file_in(workshop_, "reports", name + "/report.html");
  if (!path) return path.error();
  constexpr size_t kBytesMax = size_t{64} << 20;
  return protocol::read_text_file(*path, kBytesMax);
}

// --- Deeds --------------------------------------------------------------------------------------

Result<Json> PanelServices::act(const std::string& what, const Json& how) {
  Result<void> done;
  if (what == "connect") {
    done = connect(how);
  } else if (what == "disconnect") {
    done = bench_.disconnect();
  } else if (what == "home") {
    done = bench_.home();
  } else if (what == "sweep") {
    done = sweep(how);
  } else if (what == "jog") {
    done = jog(how);
  } else if (what == "hold") {
    done = bench_.hold();
  } else if (what == "let_go") {
    bench_.let_go();
  } else if (what.rfind("calibrate_", 0) == 0) {
    done = converse(what, how);
  } else if (what == "answer") {
    done = answer(how);
  } else if (what == "write") {
    done = write(how);
  } else if (what == "fit" || what == "report") {
    return put_on_desk(what, how);
  } else {
    return no_such(what);
  }
  if (!done) return done.error();
  return Json{{"begun", what}};
}

Result<void> PanelServices::connect(const Json& how) {
  BenchOptions options = options_;
  JsonFields fields(how, "connect");
  const std::string rig = fields.text_or_empty("rig");
  const Result<void> sound = fields.finish();
  if (!sound) return sound;
  if (!rig.empty()) options.rig = options_.rig = rig;
  const Result<BenchSetup> setup = load_bench_setup(options);
  if (!setup) return setup.error();
  return bench_.connect(*setup, virtual_faults_);
}

Result<void> PanelServices::jog(const Json& how) {
  JsonFields fields(how, "jog");
  const std::string toward = fields.text("toward");
  if (const Result<void> sound = fields.finish(); !sound) return sound;
  if (toward == "compression") return bench_.jog(1);
  if (toward == "extension") return bench_.jog(-1);
  return Error{Errc::usage, "\"toward\" is compression or extension."};
}

Result<void> PanelServices::answer(const Json& how) {
  JsonFields fields(how, "answer");
  constexpr int64_t kNumberMax = 1'000'000'000;
  const auto question = static_cast<int>(fields.integer("question", 0, kNumberMax));
  const bool yes = fields.boolean("yes");
  if (const Result<void> sound = fields.finish(); !sound) return sound;
  return bench_.answer(question, yes);
}

Result<void> PanelServices::write(const Json& how) {
  JsonFields fields(how, "write");
  const std::string line = fields.text_or_empty("line");
  if (const Result<void> sound = fields.finish(); !sound) return sound;
  return bench_.write(line);
}

Result<void> PanelServices::converse(const std::string& what, const Json& how) {
  Result<std::vector<std::string>> words = talk_words(workshop_, what, options_.rig, how);
  if (!words) return words.error();
  return bench_.converse(std::move(words).value());
}

Result<void> PanelServices::sweep(const Json& how) {
  SweepOptions options;
  JsonFields fields(how, "sweep");
  const std::string fork_name = fields.text("fork");
  quantity(fields, "pressure", Dimension::pressure, options.setting.pressure_gauge_Pa);
  quantity(fields, "temperature", Dimension::temperature, options.setting.temperature_K);
  quantity(fields, "speed", Dimension::speed, options.speed_m_s);
  quantity(fields, "to", Dimension::length, options.to_m);
  std::optional<double> settle_s;
  quantity(fields, "settle", Dimension::time, settle_s);
  options.settle_s = settle_s.value_or(options.settle_s);
  constexpr int64_t kCountMax = 1000;
  if (fields.maybe("spacers") != nullptr) {
    options.setting.spacers = static_cast<int>(fields.integer("spacers", 0, kCountMax));
  }
  if (fields.maybe("cycles") != nullptr) {
    options.cycles = static_cast<int>(fields.integer("cycles", 1, kCountMax));
  }
  if (fields.maybe("conditioning") != nullptr) {
    options.conditioning = static_cast<int>(fields.integer("conditioning", 0, kCountMax));
  }
  options.clicks = fields.text_or_empty("clicks");
  const Result<void> said = fields.finish();
  if (!said) return said;

  const Result<fs::path> fork_file = file_in(workshop_, "forks", fork_name);
  if (!fork_file) return fork_file.error();
  const Result<protocol::Fork> fork = protocol::load_fork(*fork_file);
  if (!fork) return fork.error();
  const Result<BenchSetup> setup = load_bench_setup(options_);
  if (!setup) return setup.error();
  Result<protocol::Setting> setting = make_setting(options.setting, *fork);
  if (!setting) return setting.error();
  setting->coupling = setup->bench.coupling;
  host::SweepPlan plan = make_sweep_plan(options, *setup, *fork, *setting);
  plan.path = next_record_path(folder_for(workshop_, "sweeps"), file_stem(fork->name));
  const Result<void> sound = host::check_plan(plan);
  if (!sound) return sound;
  return bench_.sweep(plan);
}

}  // namespace controller::cli
