// `springwright demo DIR`: the whole job on a virtual rig, with two invented forks. It runs the
// very commands that a user would type, and prints each of them first.
#include <fmt/ostream.h>

#include <CLI/CLI.hpp>
#include <filesystem>
#include <string>
#include <vector>

#include "controller/cli/calibrate/practice_readings.hpp"
#include "controller/cli/commands.hpp"
#include "controller/cli/options.hpp"
#include "protocol/record/file_system.hpp"
#include "protocol/record/json_fields.hpp"

namespace controller::cli {
namespace {

using protocol::Errc;
using protocol::Error;
using protocol::Result;
namespace fs = std::filesystem;

// Beside the program where it is installed, else in the sources that it was built from.
std::string virtual_forks() {
  std::error_code code;
  const fs::path program = fs::read_symlink("/proc/self/exe", code);
  const fs::path installed = program.parent_path().parent_path() / "share/springwright/forks";
  return fs::exists(installed, code) ? installed.string() : SPRINGWRIGHT_VIRTUAL_FORKS;
}

struct DemoOptions {
  std::string folder;
  std::string forks = virtual_forks();
  bool json = false;
};

struct DemoFork {
  const char* stem;          // of its files
  const char* pressures[2];  // as swept
  const char* tested;        // as a rider would set it up, not swept
};

constexpr DemoFork kForks[] = {{"larch_160", {"70 psi", "95 psi"}, "82 psi"},
                               {"basalt_160", {"62 psi", "86 psi"}, "76 psi"}};
constexpr const char* kSpacers[] = {"0", "2"};
constexpr const char* kLoad = "430 N";

class Demo {
 public:
  Demo(const DemoOptions& options, Console& console)
      : folder_(options.folder),
        forks_(fs::absolute(options.forks)),
        // A script wants the last line alone.
        console_{options.json ? console.err : console.out, console.err, console.err_is_terminal} {}

  Result<void> run() {
    if (fs::exists(folder_)) {
      return Error{Errc::output_exists,
                   fmt::format("'{}' exists already; the demonstration wants a new folder.",
                               folder_.string())};
    }
    say("Two invented forks on a virtual rig. Every number of theirs is made up.");
    Result<void> done = command({"init", folder_.string()});
    if (done) done = furnish();
    if (done) done = calibrate();
    for (const DemoFork& fork : kForks) {
      if (done) done = sweep(fork);
    }
    for (const DemoFork& fork : kForks) {
      if (done) done = fit(fork);
    }
    if (done) done = compare();
    if (done) done = report();
    if (!done) return done.error();
    return {};
  }

  std::string folder() const { return fs::current_path().string(); }
  // Once it has run.
  std::string report_path() const {
    return (fs::current_path() / "reports/demo/report.html").string();
  }

 private:
  void say(const std::string& text) { fmt::print(console_.out, "\n# {}\n", text); }

  static std::string quoted(const std::string& word) {
    return word.find(' ') == std::string::npos ? word : "\"" + word + "\"";
  }

  // Shows the command line and runs it.
  Result<void> command(const std::vector<std::string>& words) {
    std::string line = "springwright";
    std::vector<const char*> arguments = {"springwright"};
    for (const std::string& word : words) {
      line += " " + quoted(word);
      arguments.push_back(word.c_str());
    }
    fmt::print(console_.out, "$ {}\n", line);
    console_.out.flush();
    const int exit =
        run_command_line(static_cast<int>(arguments.size()), arguments.data(), console_);
    console_.out.flush();
    if (exit == 0) return {};
    return Error{Errc::bug,
                 fmt::format("the demonstration stopped: \"{}\" ended with {}.", line, exit)};
  }

  // Plant files and the forks' own files into the workshop, so that every line can be run again
  // there.
  Result<void> furnish() {
    std::error_code code;
    fs::current_path(folder_, code);
    fs::create_directory("virtual", code);
    const auto copy = [&](const fs::path& from, const fs::path& to) {
      if (!code) fs::copy_file(from, to, code);
    };
    copy(forks_ / "bench.toml", "virtual/bench.toml");
    for (const DemoFork& fork : kForks) {
      const std::string name = std::string(fork.stem) + ".toml";
      copy(forks_ / name, "virtual/" + name);
      copy(forks_ / "caliper" / name, "forks/" + name);
    }
    if (code) {
      return Error{Errc::write_failed, fmt::format("cannot furnish the workshop from '{}': {}.",
                                                   forks_.string(), code.message())};
    }
    return {};
  }

  static std::string rig(const DemoFork& fork) {
    return fmt::format("virtual:virtual/{}.toml", fork.stem);
  }

  Result<BenchSetup> setup(bool calibrated) {
    BenchOptions options;
    options.rig = rig(kForks[0]);
    if (calibrated) {
      options.force_calibration = "calibrations/force.json";
      options.travel_calibration = "calibrations/travel.json";
    }
    return load_bench_setup(options);
  }

  Result<void> calibrate_one(const std::string& kind, bool calibrated,
                             Result<std::string> (*practise)(const BenchSetup&),
                             const std::vector<std::string>& more) {
    const Result<BenchSetup> bench = setup(calibrated);
    if (!bench) return bench.error();
    const Result<std::string> readings = practise(*bench);
    if (!readings) return readings.error();
    protocol::DiskFileSystem files;
    const std::string file = fmt::format("calibrations/{}-readings.csv", kind);
    if (const auto written = protocol::write_new_file(files, file, *readings); !written) {
      return written.error();
    }
    std::vector<std::string> words = {"calibrate",
                                      kind,
                                      file,
                                      "--out",
                                      fmt::format("calibrations/{}.json", kind),
                                      "--html",
                                      fmt::format("calibrations/{}.html", kind),
                                      "--operator",
                                      "the demonstration",
                                      "--place",
                                      "a virtual bench",
                                      "--rig",
                                      "Virtual bench 1",
                                      "--temperature",
                                      "20 degC"};
    words.insert(words.end(), more.begin(), more.end());
    return command(words);
  }

  Result<void> calibrate() {
    say("Calibrate: a reference transducer on the load cell, a dial indicator, a rigid block.");
    Result<void> done =
        calibrate_one("force", false, practise_force,
                      {"--cell", "virtual load cell, 5 kN", "--standard",
                       "reference transducer 3 kN", "--standard-uncertainty", "0.05 %"});
    if (done) {
      done = calibrate_one("travel", false, practise_travel,
                           {"--cell", "virtual screw", "--standard", "dial indicator 150 mm",
                            "--standard-uncertainty", "0.01 %"});
    }
    if (done) done = calibrate_one("frame", true, practise_frame, {"--cell", "virtual frame"});
    return done;
  }

  static std::string record(const DemoFork& fork, const char* pressure, const char* spacers) {
    const std::string text = pressure;
    return fmt::format("sweeps/{}-{}psi-{}.csv", fork.stem, text.substr(0, text.find(' ')),
                       spacers);
  }

  Result<void> sweep(const DemoFork& fork) {
    say(fmt::format("Sweep {}: two pressures, two spacer counts.", fork.stem));
    for (const char* pressure : fork.pressures) {
      for (const char* spacers : kSpacers) {
        const Result<void> done =
            command({"sweep", "--rig", rig(fork), "--fork", fmt::format("forks/{}.toml", fork.stem),
                     "--pressure", pressure, "--spacers", spacers, "--force-calibration",
                     "calibrations/force.json", "--travel-calibration", "calibrations/travel.json",
                     "--frame-calibration", "calibrations/frame.json", "--yes", "--out",
                     record(fork, pressure, spacers)});
        if (!done) return done.error();
      }
    }
    return {};
  }

  static std::vector<std::string> records(const DemoFork& fork) {
    std::vector<std::string> out;
    for (const char* pressure : fork.pressures) {
      for (const char* spacers : kSpacers) out.push_back(record(fork, pressure, spacers));
    }
    return out;
  }

  static std::string model(const DemoFork& fork) {
    return fmt::format("models/{}.json", fork.stem);
  }

  Result<void> fit(const DemoFork& fork) {
    say(fmt::format("Fit the four sweeps of {} together.", fork.stem));
    std::vector<std::string> words = {"fit"};
    for (const std::string& path : records(fork)) words.push_back(path);
    words.insert(words.end(), {"--out", model(fork)});
    return command(words);
  }

  Result<void> compare() {
    say("Compare at settings that nobody swept: as set, and at matched sag.");
    return command({"compare", model(kForks[0]), model(kForks[1]), "--pressure-a", kForks[0].tested,
                    "--spacers-a", "1", "--pressure-b", kForks[1].tested, "--spacers-b", "1",
                    "--load", kLoad});
  }

  Result<void> report() {
    say("Publish.");
    std::vector<std::string> words = {"report", "--a", model(kForks[0]), "--b", model(kForks[1])};
    for (const auto& [option, fork] :
         {std::pair{"--records-a", &kForks[0]}, {"--records-b", &kForks[1]}}) {
      words.push_back(option);
      for (const std::string& path : records(*fork)) words.push_back(path);
    }
    words.insert(words.end(), {"--load", kLoad, "--out", "reports/demo"});
    return command(words);
  }

  fs::path folder_;
  fs::path forks_;
  Console console_;
};

Result<void> run_demo(const DemoOptions& options, Console& console) {
  Demo demo(options, console);
  const Result<void> done = demo.run();
  if (!done) return done;
  if (options.json) {
    console.out << protocol::json_text(
        {{"report", demo.report_path()}, {"workshop", demo.folder()}});
  } else {
    fmt::print(console.out, "{}\n", demo.report_path());
  }
  return {};
}

}  // namespace

void add_demo(Commands& commands) {
  auto [app, options] = commands.add<DemoOptions>(
      "demo", "Run the whole job on a virtual rig, command by command, into a new folder.",
      run_demo);
  app.add_option("folder", options.folder, "The workshop folder to make")
      ->required()
      ->type_name("DIR");
  app.add_option("--forks", options.forks, "Where the virtual forks' files are")->type_name("DIR");
  add_json(app, options.json);
  add_examples(app, {"springwright demo my-demo"});
}

}  // namespace controller::cli
