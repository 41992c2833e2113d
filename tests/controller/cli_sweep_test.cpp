// `springwright sweep` and `rig` as a user calls them, on virtual rigs: answers, exit codes, files.
#include <fcntl.h>
#include <unistd.h>

#include <atomic>
#include <catch2/catch.hpp>
#include <csignal>
#include <nlohmann/json.hpp>
#include <sstream>
#include <thread>

#include "controller/cli/bench/progress_bar.hpp"
#include "protocol/record/record_reader.hpp"
#include "tests/support/command_line.hpp"
#include "tests/support/temporary_folder.hpp"

namespace {

namespace fs = std::filesystem;
using Catch::Matchers::Contains;
using Catch::Matchers::WithinAbs;
using test_support::TemporaryFolder;

const std::string kForks = SPRINGWRIGHT_SOURCE_DIR "/controller/virtual_rig/forks/";
const std::string kRig = "virtual:" + kForks + "larch_160.toml";
const std::string kFork = kForks + "caliper/larch_160.toml";

// Called in a folder of its own, with nobody at the keyboard.
struct Shell {
  Shell() : before(fs::current_path()) {
    fs::current_path(folder.path());
    const int nobody = open("/dev/null", O_RDONLY);
    dup2(nobody, STDIN_FILENO);
    close(nobody);
  }
  ~Shell() { fs::current_path(before); }

  int run(const std::vector<std::string>& words) {
    const test_support::CommandRun done = test_support::run_words(words);
    answer = done.answer;
    complaint = done.complaint;
    UNSCOPED_INFO(complaint);
    return done.exit_code;
  }

  // A short sweep, and whatever else is said.
  int sweep(const std::vector<std::string>& more, const std::string& cycles = "1") {
    std::vector<std::string> words = {"sweep",   "--rig",      kRig,     "--fork",
                                      kFork,     "--pressure", "81 psi", "--spacers",
                                      "1",       "--to",       "20 mm",  "--speed",
                                      "10 mm/s", "--settle",   "1 s",    "--conditioning",
                                      "0",       "--cycles",   cycles,   "--yes"};
    words.insert(words.end(), more.begin(), more.end());
    return run(words);
  }

  TemporaryFolder folder;
  fs::path before;
  std::string answer;
  std::string complaint;
};

TEST_CASE("sweep command: records under a new name each time", "[cli][sweep]") {
  Shell shell;
  REQUIRE(shell.sweep({}) == 0);
  CHECK_THAT(shell.answer, Contains("larch-160-001.csv\n"));
  CHECK(shell.complaint.empty());
  REQUIRE(shell.sweep({"--json"}) == 0);
  const nlohmann::json answer = nlohmann::json::parse(shell.answer);
  CHECK(answer.at("record") == "larch-160-002.csv");
  CHECK(answer.at("cycles") == 1);
  CHECK(answer.at("rows").get<int>() > 300);
  CHECK(answer.at("lost_samples") == 0);
  CHECK_THAT(answer.at("zero_drift_N").get<double>(), WithinAbs(0.0, 1.0));
  CHECK(shell.folder.names() ==
        std::set<std::string>{"larch-160-001.csv", "larch-160-001.csv-metadata.json",
                              "larch-160-002.csv", "larch-160-002.csv-metadata.json"});
}

TEST_CASE("sweep command: in a workshop folder the bench names rig and certificates",
          "[cli][sweep]") {
  Shell shell;
  REQUIRE(shell.run({"init", "shop"}) == 0);
  fs::current_path(shell.folder / "shop");
  test_support::write_all("readings.csv",
                          "force_N,counts\n0,41260\n500,459960\n1000,878660\n1500,1297360\n"
                          "2000,1716060\n1000,878661\n0,41261\n");
  REQUIRE(shell.run({"calibrate", "force", "readings.csv", "--out", "calibrations/force.json"}) ==
          0);
  test_support::write_all("bench.toml", "[rig]\nport = \"" + kRig +
                                            "\"\nname = \"bench-7\"\n[calibrations]\nforce = "
                                            "\"calibrations/force.json\"\n");
  fs::current_path("forks");  // anywhere below the folder
  REQUIRE(shell.run({"sweep", "--fork", kFork, "--pressure", "81 psi", "--spacers", "1", "--to",
                     "20 mm", "--speed", "10 mm/s", "--settle", "1 s", "--cycles", "1",
                     "--conditioning", "0", "--yes"}) == 0);
  const auto record = protocol::load_record(shell.folder / "shop/sweeps/larch-160-001.csv");
  REQUIRE(record);
  const protocol::Metadata& metadata = record->metadata;
  CHECK(metadata.rig_id == "bench-7");
  CHECK(metadata.source == "virtual:larch_160.toml");
  REQUIRE(metadata.force_calibration);
  CHECK(metadata.force_calibration->id.size() == 64);
  CHECK(metadata.force_calibration->covariance.size() == 4);
  CHECK(metadata.doubt.calibrated);
}

TEST_CASE("sweep command: --again repeats the last sweep, and what is said besides wins",
          "[cli][sweep]") {
  Shell shell;
  CHECK(shell.run({"sweep", "--again", "--rig", kRig, "--yes"}) == 3);
  CHECK_THAT(shell.complaint, Contains("no sweep"));
  REQUIRE(shell.sweep({"--temperature", "25 degC", "--clicks", "all open"}) == 0);
  REQUIRE(shell.run({"sweep", "--again", "--rig", kRig, "--yes", "--settle", "1 s", "--pressure",
                     "70 psi"}) == 0);
  const auto first = protocol::load_record("larch-160-001.csv");
  const auto second = protocol::load_record("larch-160-002.csv");
  REQUIRE(first);
  REQUIRE(second);
  CHECK_THAT(protocol::in_unit(second->metadata.setting.pressure_gauge_Pa, "psi"),
             WithinAbs(70.0, 1e-9));
  CHECK(second->metadata.setting.temperature_K == first->metadata.setting.temperature_K);
  CHECK(second->metadata.setting.damper_clicks == "all open");
  CHECK(second->metadata.speed_m_s == first->metadata.speed_m_s);
  CHECK(second->metadata.measuring_cycles == 1);
  CHECK(second->metadata.conditioning_cycles == 0);
  CHECK(second->metadata.fork.name == first->metadata.fork.name);
  // Both strokes end at 20 mm of the screw.
  const auto way = [](const protocol::SweepRecord& record) {
    return *std::max_element(record.raw_steps.begin(), record.raw_steps.end()) -
           *std::min_element(record.raw_steps.begin(), record.raw_steps.end());
  };
  CHECK(way(*first) == way(*second));
}

struct CodeRow {
  int code;
  const char* words;
  std::vector<std::string> arguments;
};

TEST_CASE("sweep command: each kind of failure has its exit code, and leaves nothing behind",
          "[cli][sweep][fault]") {
  const std::vector<std::string> setting = {"--pressure", "81 psi", "--spacers", "1", "--yes"};
  const CodeRow rows[] = {
      {3,
       "over the limit of the fork",
       {"--rig", kRig, "--fork", kFork, "--pressure", "151 psi", "--spacers", "1", "--yes"}},
      {3, "nope.toml", {"--rig", kRig, "--fork", "nope.toml"}},
      {3, "nope.toml", {"--rig", "virtual:nope.toml", "--fork", kFork}},
      {3, "160.0 mm of travel", {"--rig", kRig, "--fork", kFork, "--to", "161 mm"}},
      {3, "nope.json", {"--rig", kRig, "--fork", kFork, "--force-calibration", "nope.json"}},
      {2, "--fork is required", {"--rig", kRig}},
      {2, "Which rig?", {"--fork", kFork}},
      {2, "is a length", {"--rig", kRig, "--fork", kFork, "--speed", "4 mm"}},
      {2,
       "somebody at the keyboard",
       {"--rig", kRig, "--fork", kFork, "--pressure", "81 psi", "--spacers", "1"}},
      {2, "--faults", {"--rig", kRig, "--fork", kFork, "--virtual-faults", "nonsense"}},
      {4, "There is no port", {"--rig", "/dev/springwright-no-port", "--fork", kFork}},
      {4, "not a serial port", {"--rig", "/dev/null", "--fork", kFork}},
      {7, "does not exist", {"--rig", kRig, "--fork", kFork, "--out", "no/such/folder.csv"}},
  };
  for (const CodeRow& row : rows) {
    CAPTURE(row.words);
    Shell shell;
    std::vector<std::string> words = {"sweep"};
    words.insert(words.end(), row.arguments.begin(), row.arguments.end());
    const bool said = std::find(words.begin(), words.end(), "--pressure") != words.end();
    if (!said) words.insert(words.end(), setting.begin(), setting.end());
    CHECK(shell.run(words) == row.code);
    if (std::string(row.words) != "--faults") CHECK_THAT(shell.complaint, Contains(row.words));
    CHECK(shell.answer.empty());
    CHECK(shell.folder.names().empty());
  }
}

TEST_CASE("sweep command: an output that exists is not overwritten", "[cli][sweep][fault]") {
  Shell shell;
  test_support::write_all("mine.csv", "precious");
  CHECK(shell.sweep({"--out", "mine.csv"}) == 7);
  CHECK(test_support::read_all("mine.csv") == "precious");
  CHECK(shell.folder.names() == std::set<std::string>{"mine.csv"});
}

TEST_CASE("sweep command: a pulled cable and an emergency stop keep the rows",
          "[cli][sweep][fault]") {
  const std::pair<const char*, int> faults[] = {{"unplug@15 mm", 4}, {"emergency_stop@15 mm", 5}};
  for (const auto& [fault, code] : faults) {
    Shell shell;
    CHECK(shell.sweep({"--virtual-faults", fault}) == code);
    CHECK_THAT(shell.complaint, Contains("marked interrupted"));
    const auto record = protocol::load_record("larch-160-001.csv");
    REQUIRE(record);
    CHECK(record->metadata.state == protocol::RecordState::interrupted);
    CHECK_FALSE(record->metadata.state_reason.empty());
    CHECK(record->size() > 50);
  }
}

TEST_CASE("sweep command: Ctrl-C in mid-sweep stops in order and keeps the record",
          "[cli][sweep][fault]") {
  Shell shell;
  // Presses the key as soon as rows are on the disk.
  std::atomic<bool> over = false;
  std::thread key([&over] {
    std::error_code error;
    while (!over && (fs::file_size("long.csv", error) < 20000 || error)) std::this_thread::yield();
    if (!over) kill(getpid(), SIGINT);
  });
  CHECK(shell.sweep({"--out", "long.csv"}, "1000") == 5);
  over = true;
  key.join();
  CHECK_THAT(shell.complaint, Contains("Stopped by the operator"));
  const auto record = protocol::load_record("long.csv");
  REQUIRE(record);
  CHECK(record->metadata.state == protocol::RecordState::interrupted);
  CHECK(record->size() > 300);
}

TEST_CASE("rig command: shows, homes, touches, moves and stops", "[cli][rig]") {
  Shell shell;
  REQUIRE(shell.run({"rig", "show", "--rig", kRig, "--json"}) == 0);
  const nlohmann::json shown = nlohmann::json::parse(shell.answer);
  CHECK(shown.at("rig_id") == "VIRTUAL-01");
  CHECK(shown.at("position") == "unknown");
  // The cell rests at 41260 counts; 80 readings of 1005 counts' noise leave 112.
  CHECK_THAT(shown.at("counts").get<double>(), WithinAbs(41260.0, 4.0 * 112.0));
  REQUIRE(shell.run({"rig", "home", "--rig", kRig, "--yes", "--json"}) == 0);
  CHECK(nlohmann::json::parse(shell.answer).at("position_steps") == 800);
  REQUIRE(shell.run({"rig", "touch", "--rig", kRig, "--yes", "--json"}) == 0);
  // The fork tops out 12 mm from the switch and lets itself be pressed a little.
  CHECK_THAT(nlohmann::json::parse(shell.answer).at("position_mm").get<double>(),
             WithinAbs(12.4, 0.5));
  REQUIRE(shell.run({"rig", "move", "--to", "40 mm", "--rig", kRig, "--yes", "--json"}) == 0);
  CHECK(nlohmann::json::parse(shell.answer).at("position_steps") == 16000);
  CHECK(shell.run({"rig", "stop", "--rig", kRig}) == 0);
}

TEST_CASE("rig command: refuses what cannot be", "[cli][rig][fault]") {
  Shell shell;
  CHECK(shell.run({"rig", "show", "--rig", "/dev/springwright-no-port"}) == 4);
  CHECK(shell.run({"rig", "home", "--rig", kRig}) == 2);
  CHECK(shell.run({"rig", "move", "--rig", kRig, "--yes"}) == 2);
  CHECK(shell.run({"rig", "move", "--by", "6 mm", "--rig", kRig, "--yes"}) == 2);
  CHECK(shell.run({"rig", "move", "--by", "1 mm", "--rig", kRig, "--yes"}) == 4);
  CHECK_THAT(shell.complaint, Contains("unknown position"));
  CHECK(shell.run({"rig", "move", "--to", "900 mm", "--rig", kRig, "--yes"}) == 4);
  CHECK_THAT(shell.complaint, Contains("beyond the travel limits"));
}

TEST_CASE("rig and sweep: help shows the cautions", "[cli][rig]") {
  Shell shell;
  for (const std::vector<std::string>& words : {std::vector<std::string>{"sweep", "--help"},
                                                {"rig", "--help"},
                                                {"rig", "move", "--help"}}) {
    CHECK(shell.run(words) == 0);
    CHECK_THAT(shell.answer, Contains("can crush a hand"));
  }
}

TEST_CASE("progress bar: says what, how far and how long", "[cli]") {
  using controller::cli::progress_line;
  CHECK(progress_line({"measuring, cycle 1 of 3", 0.5, 80.0}) ==
        "[############            ]  50 %  measuring, cycle 1 of 3, 1 min 20 s left");
  CHECK(progress_line({"homing", 0.0, {}}) ==
        "[                        ]   0 %  homing, estimating the time left");
  CHECK_THAT(progress_line({"x", 0.99, 7201.0}), Contains(" 99 %") && Contains("2 h 0 min left"));
}

TEST_CASE("progress bar: is silent where there is no terminal", "[cli]") {
  std::ostringstream out;
  std::ostringstream err;
  controller::cli::Console console{out, err, false};
  {
    controller::cli::ProgressBar bar(console);
    bar.show({"homing", 0.1, {}});
  }
  CHECK(err.str().empty());
  console.err_is_terminal = true;
  {
    controller::cli::ProgressBar bar(console);
    bar.show({"homing", 0.1, {}});
  }
  CHECK_THAT(err.str(), Contains("homing"));
}

}  // namespace
