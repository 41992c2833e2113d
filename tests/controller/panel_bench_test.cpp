// The bench behind the page on a virtual rig, without a page: what it does by itself, what it
// tells, and what ends what it does.
#include <catch2/catch.hpp>
#include <chrono>
#include <thread>

#include "controller/cli/page/panel_services.hpp"
#include "tests/support/temporary_folder.hpp"

namespace {

using namespace controller::cli;
using Catch::Matchers::Contains;
namespace host = controller::host;
namespace virtual_rig = controller::virtual_rig;
using host::Answer;
using protocol::Json;
using protocol::Result;
namespace fs = std::filesystem;

const std::string kForks = std::string(SPRINGWRIGHT_SOURCE_DIR) + "/controller/virtual_rig/forks/";

// The services of a workshop with one fork, and everything that they told.
struct Bench {
  Bench() {
    // A page may be opened in a folder that is no workshop yet.
    fs::create_directory(folder / "forks");
    fs::copy_file(kForks + "caliper/larch_160.toml", folder / "forks/larch_160.toml");
    BenchOptions options;
    options.rig = "virtual:" + kForks + "larch_160.toml";
    services =
        std::make_unique<PanelServices>(folder.path(), options, std::vector<virtual_rig::Fault>(),
                                        [this](controller::panel::Feed, const Json& told) {
                                          const std::lock_guard lock(mutex);
                                          if (told.contains("bench"))
                                            told_states.push_back(told["bench"]);
                                        });
  }

  Json state() { return services->state()["bench"]; }
  Result<Json> act(const std::string& what, const Json& how = Json::object()) {
    return services->act(what, how);
  }
  template <class Condition>
  bool comes(Condition condition, std::chrono::seconds patience = std::chrono::seconds(60)) {
    const auto latest = std::chrono::steady_clock::now() + patience;
    while (!condition()) {
      if (std::chrono::steady_clock::now() > latest) return false;
      std::this_thread::sleep_for(std::chrono::milliseconds(2));
    }
    return true;
  }
  bool rests() {
    return comes([this] { return state()["doing"] == "nothing"; });
  }
  void connect_and_home() {
    REQUIRE(act("connect"));
    REQUIRE(rests());
    REQUIRE(state()["connected"] == true);
    REQUIRE(act("home"));
    REQUIRE(rests());
    REQUIRE(comes([this] { return state()["homed"] == true; }));
  }
  double travel_mm() { return state()["travel_mm"].get<double>(); }

  test_support::TemporaryFolder folder;
  std::mutex mutex;
  std::vector<Json> told_states;
  std::unique_ptr<PanelServices> services;
};

}  // namespace

TEST_CASE("page operator: an answer counts for its own question, and once", "[panel]") {
  std::vector<std::pair<std::string, int>> shown;
  PageOperator person(
      [&](const std::string& text, int number) { shown.emplace_back(text, number); });
  CHECK_FALSE(person.say(0, true));
  person.ask("Is the guard closed?");
  const int first = shown.back().second;
  CHECK(person.answer({}) == Answer::pending);
  CHECK(person.say(first, true));
  CHECK_FALSE(person.say(first, false));  // a second click
  CHECK(person.answer({}) == Answer::done);
  person.ask("Is the damper open?");
  CHECK_FALSE(person.say(first, true));  // a click that was late
  CHECK(person.answer({}) == Answer::pending);
  CHECK(person.say(shown.back().second, false));
  CHECK(person.answer({}) == Answer::refused);
}

TEST_CASE("page stop: once in order, twice at once, and by itself where it is not held",
          "[panel]") {
  PageStop stop;
  const auto now = PageStop::Clock::now();
  CHECK(stop.level() == host::StopLevel::none);
  stop.hold_until(now + std::chrono::hours(1));
  CHECK(stop.level() == host::StopLevel::none);
  stop.hold_until(now - std::chrono::milliseconds(1));
  CHECK(stop.level() == host::StopLevel::stop);
  CHECK_FALSE(stop.is_raised());
  stop.take_back();
  CHECK(stop.level() == host::StopLevel::none);
  stop.raise();
  CHECK(stop.level() == host::StopLevel::stop);
  stop.raise();
  CHECK(stop.level() == host::StopLevel::halt);
}

TEST_CASE("page bench: nothing moves before it is homed, nor without a rig", "[panel]") {
  Bench bench;
  CHECK_THAT(bench.act("home").error().message, Contains("No rig is connected"));
  CHECK_THAT(bench.act("jog", {{"toward", "compression"}}).error().message,
             Contains("No rig is connected"));
  REQUIRE(bench.act("connect"));
  REQUIRE(bench.rests());
  CHECK(bench.state()["homed"] == false);
  CHECK_FALSE(bench.act("jog", {{"toward", "sideways"}}));
  CHECK_FALSE(bench.act("hold"));
}

TEST_CASE("page bench: a jog goes on while it is held, and ends by itself where it is not",
          "[panel]") {
  Bench bench;
  bench.connect_and_home();
  const double start_mm = bench.travel_mm();
  REQUIRE(bench.act("jog", {{"toward", "compression"}}));
  for (int i = 0; i < 400 && bench.travel_mm() < start_mm + 1.0; ++i) {
    (void)bench.act("hold");
    std::this_thread::sleep_for(std::chrono::milliseconds(20));
  }
  CHECK(bench.travel_mm() > start_mm + 0.5);
  // Held no longer, and nobody says so.
  CHECK(bench.rests());
  CHECK(bench.state()["message"] == "");
  CHECK_FALSE(bench.act("hold"));
  // It rests indeed, and the rig is still there.
  const double end_mm = bench.travel_mm();
  std::this_thread::sleep_for(std::chrono::milliseconds(500));
  // It would go 0.6 mm; what is told is up to a tenth of a second old.
  CHECK(std::abs(bench.travel_mm() - end_mm) < 0.3);
  CHECK(bench.state()["connected"] == true);
  // Let go at once.
  REQUIRE(bench.act("jog", {{"toward", "extension"}}));
  REQUIRE(bench.act("let_go"));
  CHECK(bench.rests());
}

TEST_CASE("page bench: when the operator is lost, what moves ends and what rests is left alone",
          "[panel]") {
  Bench bench;
  bench.connect_and_home();
  bench.services->operator_lost();
  CHECK(bench.state()["connected"] == true);
  REQUIRE(bench.act("sweep", {{"fork", "larch_160.toml"},
                              {"pressure", "80 psi"},
                              {"spacers", 0},
                              {"speed", "1 mm/s"},
                              {"cycles", 900},
                              {"settle", "1 s"}}));
  const auto agree = [&] {
    const Json state = bench.state();
    const int number = state["question_number"].get<int>();
    if (number > 0) (void)bench.act("answer", {{"question", number}, {"yes", true}});
    return state["step"].get<std::string>().find("measuring") != std::string::npos;
  };
  REQUIRE(bench.comes(agree));
  CHECK_FALSE(bench.act("home"));  // one thing at a time
  bench.services->operator_lost();
  CHECK(bench.rests());
  CHECK(bench.state()["exit"] == 5);
  CHECK_FALSE(bench.services->look_up("loop", Json::object())->at("points").empty());
  // Where the page looks for it.
  CHECK(fs::exists(bench.folder / "sweeps/larch-160-001.csv"));
  CHECK(bench.services->look_up("library", Json::object())->at("records").size() == 1);
  // And the bench can be homed again.
  REQUIRE(bench.act("home"));
  CHECK(bench.rests());
  CHECK(bench.state()["exit"] == 0);
}

TEST_CASE("page bench: a conversation is had line by line, and the page's own rig comes back",
          "[panel]") {
  Bench bench;
  bench.connect_and_home();
  REQUIRE(
      bench.act("calibrate_force", {{"loads", "0, 20, 40 kg"}, {"name", "cell"}, {"series", 3}}));
  const auto lines = [&] { return bench.services->state()["talk"]["lines"].dump(); };
  REQUIRE(bench.comes([&] {
    if (lines().find("All 15 readings") != std::string::npos) return true;
    (void)bench.act("write", {{"line", ""}});
    std::this_thread::sleep_for(std::chrono::milliseconds(50));
    return bench.state()["doing"] == "nothing";
  }));
  REQUIRE(bench.rests());
  CHECK(bench.state()["exit"] == 0);
  CHECK(fs::exists(bench.folder / "calibrations/cell.json"));
  CHECK(bench.state()["connected"] == true);
  CHECK(bench.state()["homed"] == false);
  const Json list = *bench.services->look_up("certificates", Json::object());
  CHECK(list["calibrations"][0]["kind"] == "force");
  // What is wrong is said in the conversation, and by its exit code.
  REQUIRE(bench.act("calibrate_force", {{"loads", "0, 20 kg"}, {"name", "short"}}));
  REQUIRE(bench.rests());
  CHECK(bench.state()["exit"] == 2);
  CHECK(bench.state()["message"].get<std::string>().rfind("springwright:", 0) != 0);
  for (const char* name : {"../cell", "", ".cell", "a/b"}) {
    CAPTURE(name);
    CHECK_FALSE(bench.act("calibrate_force", {{"loads", "0, 20, 40 kg"}, {"name", name}}));
  }
}

TEST_CASE("page bench: stop ends a conversation, and what was read stays", "[panel]") {
  Bench bench;
  CHECK_FALSE(bench.act("write", {{"line", ""}}));  // to nobody
  REQUIRE(bench.act("calibrate_force", {{"loads", "0, 20, 40 kg"}, {"name", "cell"}}));
  const auto lines = [&] { return bench.services->state()["talk"]["lines"].dump(); };
  REQUIRE(bench.comes([&] { return lines().find("[1/15]") != std::string::npos; }));
  REQUIRE(bench.comes([&] { return bench.act("write", {{"line", ""}}).has_value(); }));
  // A second click is none for the next step.
  CHECK_THAT(bench.act("write", {{"line", ""}}).error().message, Contains("asks for nothing"));
  REQUIRE(bench.comes([&] { return lines().find("[2/15]") != std::string::npos; }));
  bench.services->stop();
  REQUIRE(bench.rests());
  CHECK(bench.state()["exit"] == 5);
  CHECK_THAT(bench.state()["message"].get<std::string>(), Contains("1 of 15 readings are kept"));
  CHECK_FALSE(fs::exists(bench.folder / "calibrations/cell.json"));
}
