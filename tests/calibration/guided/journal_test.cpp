// A session that is broken off anywhere goes on as if it never had been.
#include "calibration/guided/journal.hpp"

#include <catch2/catch.hpp>
#include <filesystem>

#include "calibration/calibrate.hpp"
#include "calibration/certificate.hpp"
#include "tests/calibration/guided/session_support.hpp"
#include "tests/calibration/readings_support.hpp"

using calibration::GuidedEvent;
using calibration::GuidedSession;
using calibration::journal_line;
using calibration::Kind;
using calibration::resume_session;
using calibration_test::begun;
using calibration_test::GuidedCell;
using calibration_test::weights_plan;
using Catch::Matchers::Contains;

namespace {

// A session with something of everything in it: the events that made it.
std::vector<GuidedEvent> eventful(unsigned seed) {
  GuidedCell cell(seed);
  GuidedSession session = begun(weights_plan());
  std::vector<GuidedEvent> events;
  const auto keep = [&](const auto& done) {
    REQUIRE(done);
    events.push_back(*done);
  };
  const auto go = [&](int steps) {
    for (int i = 0; i < steps; ++i) {
      keep(session.accept(cell.window(session.prompt().asked.load)).event);
    }
  };
  go(2);
  REQUIRE_FALSE(session.accept(cell.window(15.0)).accepted);
  keep(session.use(15.0).event);
  go(3);
  keep(session.undo());
  go(2);
  keep(session.skip());
  go(2);
  keep(session.repeat_series());
  while (!session.is_done()) go(1);
  return events;
}

std::string whole_text(const std::vector<GuidedEvent>& events) {
  std::string text = journal_line(weights_plan());
  for (const GuidedEvent& event : events) text += journal_line(event);
  return text;
}

std::string certificate_of(const GuidedSession& session) {
  calibration::ReadingSet set = session.readings();
  set.particulars = calibration_test::empty_set(Kind::force).particulars;
  set.conditions.gravity_m_s2 = 9.81;
  return calibration::make_calibration(set).value().id;
}

}  // namespace

TEST_CASE("journal: resumed from any line, a session ends in the same certificate", "[guided]") {
  const std::vector<GuidedEvent> events = eventful(21);
  REQUIRE(events.size() > 21);
  const auto whole = resume_session(whole_text(events), "whole");
  REQUIRE(whole);
  REQUIRE(whole->session.is_done());
  const std::string id = certificate_of(whole->session);
  for (size_t kept = 0; kept <= events.size(); ++kept) {
    INFO(kept);
    const std::vector<GuidedEvent> before(events.begin(),
                                          events.begin() + static_cast<std::ptrdiff_t>(kept));
    auto resumed = resume_session(whole_text(before), "prefix");
    REQUIRE(resumed);
    for (size_t i = kept; i < events.size(); ++i) REQUIRE(resumed->session.apply(events[i]));
    CHECK(certificate_of(resumed->session) == id);
  }
}

TEST_CASE("journal: torn at any byte it loses the torn line and no more", "[guided]") {
  const std::string text = whole_text(eventful(22));
  const size_t first = text.find('\n') + 1;
  for (size_t bytes = 0; bytes <= text.size(); ++bytes) {
    const auto resumed = resume_session(text.substr(0, bytes), "torn");
    INFO(bytes);
    REQUIRE(resumed.has_value() == (bytes >= first));
    if (!resumed) continue;
    const size_t whole = text.rfind('\n', bytes == 0 ? 0 : bytes - 1) + 1;
    CHECK(resumed->text.size() == whole);
    CHECK(resumed->dropped_torn_line == (whole != bytes));
  }
}

TEST_CASE("journal: a resumed session judges as the first did", "[guided]") {
  GuidedCell cell(23);
  const std::string text = whole_text({{GuidedEvent::What::take, 0.0, 41000.0, 900.0},
                                       {GuidedEvent::What::take, 5.0, 82000.0, 900.0}});
  auto resumed = resume_session(text, "journal");
  REQUIRE(resumed);
  CHECK(resumed->session.stability_rules().noise == 900.0);
  CHECK_THAT(resumed->session.accept(cell.window(15.0)).text, Contains("reads like 15 kg"));
}

TEST_CASE("journal: what cannot have happened is refused with its line", "[guided]") {
  const std::string plan = journal_line(weights_plan());
  const auto refusal = [](const std::string& text) {
    const auto refused = resume_session(text, "session.jsonl");
    return refused ? std::string("accepted") : refused.error().message;
  };
  CHECK_THAT(refusal(plan + "{\"undo\":true}\n"), Contains("session.jsonl:2"));
  CHECK_THAT(refusal(plan + "nonsense\n"), Contains("session.jsonl:2"));
  CHECK_THAT(refusal(plan + "[1]\n"), Contains("session.jsonl:2"));
  CHECK_THAT(refusal(plan + "{\"take\":5.0}\n"), Contains("reading"));
  CHECK_THAT(refusal("{\"springwright_session\":2}\n"), Contains("session.jsonl:1"));
  std::string many = plan;
  for (int i = 0; i < 22; ++i) many += journal_line({GuidedEvent::What::take, 1.0, 2.0, 3.0});
  CHECK_THAT(refusal(many), Contains("session.jsonl:23") && Contains("after the last step"));
}

TEST_CASE("journal: on disk it goes on where it was", "[guided]") {
  const std::filesystem::path folder =
      std::filesystem::temp_directory_path() / "springwright-journal-test";
  std::filesystem::remove_all(folder);
  std::filesystem::create_directories(folder);
  const std::filesystem::path path = folder / "force.json.session.jsonl";
  protocol::DiskFileSystem files;
  const std::vector<GuidedEvent> events = eventful(24);
  {
    auto journal = calibration::SessionJournal::start(files, path, weights_plan());
    REQUIRE(journal);
    REQUIRE(journal->append(events[0]));
  }
  CHECK_FALSE(calibration::SessionJournal::start(files, path, weights_plan()));
  const std::string torn = protocol::read_text_file(path, 1 << 20).value() + "{\"take\":5";
  const auto resumed = resume_session(torn, path.string());
  REQUIRE(resumed);
  CHECK(resumed->dropped_torn_line);
  {
    auto journal = calibration::SessionJournal::go_on(files, path, resumed->text);
    REQUIRE(journal);
    REQUIRE(journal->append(events[1]));
  }
  CHECK(protocol::read_text_file(path, 1 << 20).value() == whole_text({events[0], events[1]}));
  std::filesystem::remove_all(folder);
}
