// A guided session from its first prompt to its readings, and everything it refuses on the way.
#include "calibration/guided/session.hpp"

#include <catch2/catch.hpp>

#include "calibration/calibrate.hpp"
#include "tests/calibration/guided/session_support.hpp"
#include "tests/calibration/readings_support.hpp"

using calibration::Direction;
using calibration::GuidedPlan;
using calibration::GuidedSession;
using calibration::Kind;
using calibration::LoadUnit;
using calibration::Outcome;
using calibration::ReadingSet;
using calibration::Refusal;
using calibration_test::begun;
using calibration_test::GuidedCell;
using calibration_test::weights_plan;
using Catch::Matchers::Contains;
using Catch::Matchers::WithinRel;

namespace {

// So many steps as asked for.
void go(GuidedSession& session, GuidedCell& cell, int steps) {
  for (int i = 0; i < steps; ++i) {
    const Outcome out = session.accept(cell.window(session.prompt().asked.load));
    INFO(out.text);
    REQUIRE(out.accepted);
  }
}

}  // namespace

TEST_CASE("guided: the loads on the command line", "[guided]") {
  const auto plan = calibration::parse_plan("0,5,10,20 kg", Kind::force, 3);
  REQUIRE(plan);
  CHECK(plan->loads == std::vector<double>{0.0, 5.0, 10.0, 20.0});
  CHECK(plan->unit == LoadUnit::kilogram);
  CHECK(calibration::parse_plan("0 0.25 0.5 kN", Kind::force, 3)->loads[1] == 250.0);
  const auto refusal = [](const char* loads, Kind kind, int series) {
    const auto refused = calibration::parse_plan(loads, kind, series);
    return refused ? std::string("accepted") : refused.error().message;
  };
  CHECK_THAT(refusal("0,5,10", Kind::force, 3), Contains("one unit behind the last"));
  CHECK_THAT(refusal("0,5 kg", Kind::force, 3), Contains("2 different loads are too few"));
  CHECK_THAT(refusal("0,10,5 kg", Kind::force, 3), Contains("load 3") && Contains("ascend"));
  CHECK_THAT(refusal("0,5,5 kg", Kind::force, 3), Contains("ascend"));
  CHECK_THAT(refusal("0,x,5 kg", Kind::force, 3), Contains("'x'"));
  CHECK_THAT(refusal("0,5,10 kg", Kind::travel, 3), Contains("not loaded in kg"));
  CHECK_THAT(refusal("0,5,10 kg", Kind::force, 2), Contains("from 3 to"));
}

TEST_CASE("guided: prompts name the weight that comes next", "[guided]") {
  GuidedCell cell(1);
  GuidedSession session = begun(weights_plan());
  CHECK(session.prompt().text == "Series 1 of 3, up: leave everything off.");
  CHECK_FALSE(session.prompt().can_undo);
  go(session, cell, 1);
  CHECK(session.prompt().text == "Series 1 of 3, up: put on 5 kg.");
  go(session, cell, 2);
  CHECK(session.prompt().text == "Series 1 of 3, up: put on 20 kg in all (add 10 kg).");
  go(session, cell, 1);
  CHECK(session.prompt().text == "Series 1 of 3, down: leave 10 kg on (take 10 kg off).");
  go(session, cell, 2);
  CHECK(session.prompt().text == "Series 1 of 3, down: take everything off.");
  CHECK(session.prompt().step == 7);
  CHECK(session.prompt().steps == 21);
}

TEST_CASE("guided: a whole session makes a calibration of the cell", "[guided]") {
  GuidedCell cell(2);
  GuidedSession session = begun(weights_plan());
  go(session, cell, 21);
  REQUIRE(session.is_done());
  ReadingSet set = session.readings();
  set.particulars = calibration_test::empty_set(Kind::force).particulars;
  set.conditions.gravity_m_s2 = 9.81;
  CHECK(set.readings[4].direction == Direction::descending);
  const auto made = calibration::make_calibration(set);
  REQUIRE(made);
  // Because 21 readings with 101 counts of noise leave the slope to 3e-4.
  CHECK_THAT(made->coefficients[1], WithinRel(9.81 / GuidedCell::kCounts_kg, 2e-3));
}

TEST_CASE("guided: an unsteady reading is refused with the reason", "[guided]") {
  GuidedCell cell(3);
  GuidedSession session = begun(weights_plan());
  go(session, cell, 1);
  const Outcome out = session.accept(cell.window(5.0, 8000.0));
  CHECK_FALSE(out.accepted);
  CHECK(out.why == Refusal::unstable);
  CHECK_THAT(out.text, Contains("drifting"));
  CHECK_FALSE(session.use(5.0).accepted);
  CHECK(session.prompt().step == 2);
}

TEST_CASE("guided: a weight that was forgotten is noticed", "[guided]") {
  GuidedCell cell(4);
  GuidedSession session = begun(weights_plan());
  go(session, cell, 1);
  // Before there is a line, and after.
  CHECK(session.accept(cell.window(0.0)).why == Refusal::no_change);
  go(session, cell, 1);
  const Outcome up = session.accept(cell.window(5.0));
  CHECK(up.why == Refusal::no_change);
  CHECK_THAT(up.text, Contains("does not seem to be on"));
  go(session, cell, 2);
  const Outcome down = session.accept(cell.window(20.0));
  CHECK(down.why == Refusal::no_change);
  CHECK_THAT(down.text, Contains("does not seem to be off"));
}

TEST_CASE("guided: another weight is named, and can be said to be meant", "[guided]") {
  GuidedCell cell(5);
  GuidedSession session = begun(weights_plan());
  go(session, cell, 2);
  const Outcome out = session.accept(cell.window(15.0));
  CHECK(out.why == Refusal::other_load);
  CHECK_THAT(out.text, Contains("reads like 15 kg where 10 kg is asked for") && Contains("undo") &&
                           Contains("use 15 kg"));
  REQUIRE(out.can_use == 15.0);
  // What it does not read like is not believed either.
  CHECK(session.use(12.0).why == Refusal::other_load);
  REQUIRE(session.use(15.0).accepted);
  go(session, cell, 1);
  const ReadingSet set = session.readings();
  CHECK(set.readings[2].load_kg == 15.0);
  CHECK_THAT(set.remarks.front(), Contains("15 kg was put on where 10 kg was planned"));
}

TEST_CASE("guided: a weight past the next load cannot be used", "[guided]") {
  GuidedCell cell(6);
  GuidedSession session = begun(weights_plan());
  go(session, cell, 2);
  const Outcome out = session.accept(cell.window(20.0));
  CHECK(out.why == Refusal::other_load);
  CHECK_FALSE(out.can_use);
  CHECK(session.use(20.0).why == Refusal::out_of_order);
  CHECK(session.use(5.0).why == Refusal::out_of_order);
}

TEST_CASE("guided: neighbouring loads are told apart at the heavy end", "[guided]") {
  GuidedCell cell(7);
  GuidedPlan plan = weights_plan();
  plan.loads = {0.0, 50.0, 100.0, 101.0, 102.0};
  GuidedSession session = begun(plan);
  go(session, cell, 3);
  // Two per cent of 102 kg would be more than a whole step.
  CHECK(session.accept(cell.window(102.0)).why == Refusal::other_load);
  go(session, cell, 1);
}

TEST_CASE("guided: a reading that goes the other way is refused", "[guided]") {
  GuidedCell cell(8);
  GuidedSession session = begun(weights_plan());
  go(session, cell, 1);
  SECTION("under the first load it may be meant") {
    const Outcome out = session.accept(cell.window(-5.0));
    CHECK(out.why == Refusal::sign_reversed);
    CHECK(out.can_use == 5.0);
    REQUIRE(session.use(5.0).accepted);
    CHECK(session.accept(cell.window(-10.0)).accepted);
  }
  SECTION("later it is not") {
    go(session, cell, 1);
    const Outcome out = session.accept(cell.window(0.0));
    CHECK(out.why == Refusal::sign_reversed);
    CHECK_FALSE(out.can_use);
  }
}

TEST_CASE("guided: a saturated reading is refused", "[guided]") {
  GuidedCell cell(9);
  GuidedSession session = begun(weights_plan());
  go(session, cell, 1);
  const Outcome out = session.accept(cell.window(2000.0));
  CHECK(out.why == Refusal::unstable);
  CHECK_THAT(out.text, Contains("saturated"));
}

TEST_CASE("guided: a load left out is said in the remarks", "[guided]") {
  GuidedCell cell(10);
  GuidedSession session = begun(weights_plan());
  REQUIRE_FALSE(session.skip());
  go(session, cell, 2);
  REQUIRE(session.skip());
  CHECK(session.prompt().text == "Series 1 of 3, up: put on 20 kg in all (add 15 kg).");
  go(session, cell, 1);
  const ReadingSet set = session.readings();
  CHECK(set.readings.size() == 3);
  CHECK(set.remarks.front() == "Series 1 of 3, up: 10 kg was left out.");
}

TEST_CASE("guided: leaving out what a curve needs is refused", "[guided]") {
  GuidedCell cell(11);
  GuidedSession session = begun(weights_plan());
  go(session, cell, 1);
  int left_out = 0;
  std::string refusal;
  while (!session.is_done()) {
    const auto done = session.skip();
    if (!done) {
      refusal = done.error().message;
      break;
    }
    ++left_out;
  }
  CHECK(left_out < 20);
  CHECK_THAT(refusal, Contains("2 different loads remain"));
}

TEST_CASE("guided: undo goes back over readings and loads left out", "[guided]") {
  GuidedCell cell(12);
  GuidedSession session = begun(weights_plan());
  REQUIRE_FALSE(session.undo());
  go(session, cell, 2);
  REQUIRE(session.skip());
  REQUIRE(session.undo());
  CHECK(session.prompt().asked.load == 10.0);
  REQUIRE(session.undo());
  CHECK(session.prompt().asked.load == 5.0);
  CHECK(session.taken() == 1);
  // The wrong first weight spoils every later one until it is undone.
  REQUIRE(session.accept(cell.window(10.0)).accepted);
  CHECK_THAT(session.accept(cell.window(15.0)).text,
             Contains("reads like 7.5 kg") && Contains("undo"));
  REQUIRE(session.undo());
  go(session, cell, 6);
}

TEST_CASE("guided: a series can be taken anew", "[guided]") {
  GuidedCell cell(13);
  GuidedSession session = begun(weights_plan());
  go(session, cell, 10);
  REQUIRE(session.repeat_series());
  CHECK(session.taken() == 7);
  CHECK(session.prompt().asked.series == 2);
  CHECK(session.prompt().asked.load == 0.0);
  go(session, cell, 7);
  // At the door of the third it is the second that is meant.
  REQUIRE(session.repeat_series());
  CHECK(session.taken() == 7);
}

TEST_CASE("guided: a transducer's value is typed, and held to the line", "[guided]") {
  GuidedCell cell(14);
  const auto plan = calibration::parse_plan("0, 250, 500, 750 N", Kind::force, 3);
  REQUIRE(plan);
  GuidedSession session = begun(*plan);
  const auto window = [&](double force_N) { return cell.window(force_N / 9.80665); };
  CHECK(session.accept(window(0.0)).why == Refusal::no_value);
  REQUIRE(session.accept(window(0.0), 0.0).accepted);
  REQUIRE(session.accept(window(251.3), 251.3).accepted);
  const Outcome slip = session.accept(window(498.7), 948.7);
  CHECK(slip.why == Refusal::other_load);
  CHECK_THAT(slip.text, Contains("948.7 N was typed"));
  REQUIRE(session.accept(window(498.7), 498.7).accepted);
  CHECK(session.readings().readings[2].reference == 498.7);
  CHECK_FALSE(session.readings().readings[2].load_kg);
}

TEST_CASE("guided: travel is typed in millimetres beside steps", "[guided]") {
  const auto plan = calibration::parse_plan("0, 25, 50 mm", Kind::travel, 3);
  REQUIRE(plan);
  GuidedSession session = begun(*plan);
  const auto window = [](double steps) {
    return std::vector<calibration::WindowSample>(80, {0.0, steps});
  };
  REQUIRE(session.accept(window(0.0), 0.0).accepted);
  const Outcome slip = session.accept(window(10000.0), 52.004);
  CHECK(slip.why == Refusal::other_load);
  CHECK_THAT(slip.text, Contains("sent to 25 mm, and 52.004 mm was typed"));
  REQUIRE(session.accept(window(10000.0), 25.004).accepted);
  CHECK_THAT(session.accept(window(20000.0), 5.001).text, Contains("5.001 mm was typed"));
  CHECK(session.accept(window(20000.0), 55.001).why == Refusal::other_load);
  // Within what the pitch allows, but off the line.
  CHECK_THAT(session.accept(window(20000.0), 52.5).text, Contains("By the readings so far"));
  REQUIRE(session.accept(window(20000.0), 50.001).accepted);
  CHECK_THAT(session.readings().readings[1].reference, WithinRel(0.025004, 1e-12));
}

TEST_CASE("guided: a frame's deflection is read against the force pressed", "[guided]") {
  const auto plan = calibration::parse_plan("250, 500, 750 N", Kind::frame, 2);
  REQUIRE(plan);
  GuidedSession session = begun(*plan);
  CHECK(session.steps() == 6);
  const auto window = [](double force_N) {
    return std::vector<calibration::WindowSample>(80, {0.0, force_N});
  };
  REQUIRE(session.accept_deflection(window(251.0), 6e-5).accepted);
  CHECK(session.accept_deflection(window(240.0), 6e-5).why == Refusal::out_of_order);
  REQUIRE(session.accept_deflection(window(502.0), 12e-5).accepted);
  // Because a mean of 80 equal numbers rounds.
  CHECK_THAT(session.readings().readings[1].reading, WithinRel(502.0, 1e-12));
  CHECK(session.readings().readings[1].reference == 12e-5);
}
