// Matched sag, the nearest setting, and the whole comparison as JSON and sentences.
#include <catch2/catch.hpp>

#include "fitting/compare/compare_json.hpp"
#include "fitting/compare/fairness.hpp"
#include "fitting/compare/sentences.hpp"
#include "tests/fitting/made_models.hpp"
#include "tests/fitting/made_records.hpp"

using namespace fitting;
using Catch::Matchers::Contains;
using Catch::Matchers::WithinAbs;
using Catch::Matchers::WithinRel;

namespace {

made::Chamber larch() {
  return {};
}

made::Chamber basalt() {
  made::Chamber chamber;
  chamber.area_m2 = 8.0e-4;
  chamber.volume_m3 = 2.2e-4;
  chamber.preload_N = -220.0;
  chamber.friction_N = 10.0;
  chamber.travel_m = 0.150;
  chamber.swept_m = 0.140;
  return chamber;
}

double pascals(double psi) {
  return protocol::from_unit(psi, "psi");
}

Subject record(const std::string& name, const std::string& fork, double offset_N) {
  protocol::SweepRecord sweep =
      made::sweep({}, [&](double x, int d) { return 100.0 + offset_N + 5000.0 * x + 12.0 * d; });
  sweep.metadata.fork.name = fork;
  const auto answer = answer_curve(name, sweep);
  REQUIRE(answer);
  Subject subject;
  subject.name = name;
  subject.record = *answer;
  return subject;
}

MatchedSag matched(const Subject& a, const Subject& b, const SagOptions& options) {
  const auto prepared_a = prepare(a);
  const auto prepared_b = prepare(b);
  REQUIRE(prepared_a);
  REQUIRE(prepared_b);
  const auto result = match_sag(*prepared_a, *prepared_b, options);
  REQUIRE(result);
  return *result;
}

}  // namespace

TEST_CASE("sag: the load of a rider along the fork", "[fit]") {
  Rider rider;
  rider.rider_mass_kg = 80.0;
  rider.bike_mass_kg = 15.0;
  rider.front_share = 0.4;
  rider.head_angle_rad = protocol::from_unit(60.0, "deg");
  rider.unsprung_mass_kg = 3.0;
  const auto load = load_along_fork_N(rider);
  REQUIRE(load);
  // g sin 60 deg (0.4 x 95 kg - 3 kg), exact but for rounding.
  CHECK_THAT(*load, WithinRel(9.80665 * std::sqrt(0.75) * 35.0, 1e-12));
  CHECK_THAT(describe(rider), Contains("80.0 kg") && Contains("40 %") && Contains("60.0 deg"));

  Rider broken = rider;
  broken.front_share = 1.2;
  CHECK(load_along_fork_N(broken).error().code == protocol::Errc::usage);
  broken = rider;
  broken.head_angle_rad = 0.1;
  CHECK(load_along_fork_N(broken).error().code == protocol::Errc::usage);
  broken = rider;
  broken.unsprung_mass_kg = 60.0;
  CHECK_THAT(load_along_fork_N(broken).error().message, Contains("nothing is left"));
}

TEST_CASE("sag: friction spreads it, doubt blurs it", "[fit]") {
  std::vector<double> travel_m;
  for (int i = 0; i <= 150; ++i) travel_m.push_back(0.001 * i);
  Eigen::VectorXd spring(151);
  for (int i = 0; i <= 150; ++i) spring(i) = 100.0 + 8.0 * i;
  const Eigen::VectorXd friction = Eigen::VectorXd::Constant(151, 16.0);
  const Eigen::VectorXd doubt = Eigen::VectorXd::Constant(151, 4.0);
  const auto sag = find_sag(travel_m, spring, friction, doubt, 420.0);
  REQUIRE(sag);
  // Because the spring is straight: 320 N / 8 N/mm, and 16 N or 4 N over the same rate.
  CHECK_THAT(sag->travel_m, WithinAbs(0.040, 1e-12));
  CHECK_THAT(sag->least_m.value(), WithinAbs(0.038, 1e-12));
  CHECK_THAT(sag->most_m.value(), WithinAbs(0.042, 1e-12));
  CHECK_THAT(sag->standard_uncertainty_m.value(), WithinAbs(0.0005, 1e-12));
  CHECK_FALSE(find_sag(travel_m, spring, friction, doubt, 5000.0));
  const auto bare = find_sag(travel_m, spring, {}, {}, 420.0);
  REQUIRE(bare);
  CHECK_FALSE(bare->least_m.has_value());
  CHECK_FALSE(bare->standard_uncertainty_m.has_value());
}

TEST_CASE("matched sag: at the pressures found both forks carry the load at the sag", "[fit]") {
  const Subject a = made::model("Larch 160", larch(), 80.0);
  const Subject b = made::model("Basalt 150", basalt(), 60.0, 1);
  SagOptions options;
  options.load_N = GENERATE(350.0, 430.0, 520.0);
  options.sag_share = GENERATE(0.15, 0.25);
  const MatchedSag result = matched(a, b, options);
  REQUIRE(result.a);
  REQUIRE(result.b);
  CHECK(result.not_matched_reason.empty());
  // Because the pressure is solved to a micronewton.
  CHECK_THAT(larch().force_N(*options.sag_share * 0.160, result.a->pressure_gauge_Pa, 0),
             WithinAbs(*options.load_N, 1e-5));
  CHECK_THAT(basalt().force_N(*options.sag_share * 0.150, result.b->pressure_gauge_Pa, 1),
             WithinAbs(*options.load_N, 1e-5));
  // Because the sag is read off a grid of 0.5 mm with straight lines between.
  REQUIRE(result.a->resting.sag);
  CHECK_THAT(result.a->resting.sag->travel_m, WithinAbs(*options.sag_share * 0.160, 2e-5));
  // 1 N of doubt over the force that a pascal makes.
  const double per_Pa =
      larch().force_N(result.sag_a_m, 5e5, 0) - larch().force_N(result.sag_a_m, 5e5 - 1.0, 0);
  CHECK_THAT(result.a->pressure_standard_uncertainty_Pa.value(), WithinRel(1.0 / per_Pa, 1e-6));
  REQUIRE(result.difference);
  CHECK(result.spans.size() >= 1);
  CHECK(result.thirds.size() == 3);
}

TEST_CASE("matched sag: a fork matched with itself differs nowhere", "[fit]") {
  const Subject a = made::model("Larch 160", larch(), 80.0);
  const Subject b = made::model("Larch 160", larch(), 65.0);
  const MatchedSag result = matched(a, b, {});
  REQUIRE(result.difference);
  CHECK(result.difference->difference_N.cwiseAbs().maxCoeff() < 1e-5);
  REQUIRE(result.spans.size() == 1);
  CHECK(result.spans[0].firmer == Firmer::neither);
  CHECK(result.crossings.crossovers.empty());
}

TEST_CASE("matched sag: a load that was not given is A's at its sag, and is said to be", "[fit]") {
  const Subject a = made::model("Larch 160", larch(), 80.0);
  const Subject b = made::model("Basalt 150", basalt(), 60.0);
  const MatchedSag result = matched(a, b, {});
  // Because A's spring is read off its grid.
  CHECK_THAT(result.load_N, WithinAbs(larch().force_N(0.032, pascals(80.0), 0), 0.01));
  CHECK_THAT(result.load_source, Contains("no load was given") && Contains("Larch 160"));
  CHECK_THAT(result.sag_source, Contains("20.0 %") && Contains("no sag was asked for"));
  REQUIRE(result.a);
  CHECK_THAT(result.a->pressure_gauge_Pa, WithinRel(pascals(80.0), 1e-4));
}

TEST_CASE("matched sag: under a load A stays as set and B follows, unless a sag is asked for",
          "[fit]") {
  const Subject a = made::model("Larch 160", larch(), 80.0);
  const Subject b = made::model("Basalt 150", basalt(), 60.0);
  SagOptions options;
  options.load_N = 300.0;
  const MatchedSag result = matched(a, b, options);
  REQUIRE(result.a);
  REQUIRE(result.as_tested_a.sag);
  // Because both are one product of the same share.
  CHECK_THAT(result.sag_a_m, WithinRel(result.as_tested_a.sag->travel_m, 1e-12));
  CHECK_THAT(result.sag_b_m, WithinRel(result.sag_a_m * 150.0 / 160.0, 1e-12));
  // Because A's sag is read off its grid.
  CHECK_THAT(result.a->pressure_gauge_Pa, WithinRel(pascals(80.0), 1e-4));
  CHECK_THAT(result.sag_source, Contains("'Larch 160' has as set"));
  // A load under which A hardly sags, or sags too far, says nothing about what a rider wants.
  options.load_N = larch().force_N(0.110, pascals(80.0), 0);
  const MatchedSag deep = matched(a, b, options);
  CHECK_THAT(deep.sag_a_m, WithinAbs(0.032, 1e-9));
  CHECK_THAT(deep.sag_source, Contains("20.0 %"));
}

TEST_CASE("matched sag: out of reach is said with the forces there, not guessed", "[fit]") {
  const Subject a = made::model("Larch 160", larch(), 80.0);
  const Subject b = made::model("Basalt 150", basalt(), 60.0);
  SagOptions options;
  options.load_N = 5000.0;
  const MatchedSag result = matched(a, b, options);
  CHECK_FALSE(result.a);
  CHECK_FALSE(result.difference);
  CHECK_THAT(result.not_matched_reason, Contains("150 psi") && Contains("5000 N"));
  CHECK_FALSE(result.as_tested_a.sag);
}

TEST_CASE("matched sag: the gauge enters here, shared by one bench", "[fit]") {
  made::Chamber one = larch();
  one.gauge_relative = 0.01;
  one.own_N = 0.0;
  made::Chamber other = basalt();
  other.gauge_relative = 0.01;
  other.own_N = 0.0;
  const bool same_bench = GENERATE(true, false);
  one.rig = "bench";
  other.rig = same_bench ? "bench" : "elsewhere";
  SagOptions options;
  options.load_N = 400.0;
  const MatchedSag result =
      matched(made::model("Larch 160", one, 80.0), made::model("Basalt 150", other, 60.0), options);
  REQUIRE(result.difference);
  const Eigen::Index i = 120;
  const double x = result.difference->travel_m[static_cast<std::size_t>(i)];
  const double a_N = one.force_N(x, result.a->pressure_gauge_Pa, 0) - one.preload_N;
  const double b_N = other.force_N(x, result.b->pressure_gauge_Pa, 0) - other.preload_N;
  const double expected_N = 0.01 * (same_bench ? std::abs(a_N - b_N) : std::hypot(a_N, b_N));
  // Because the grid's straight lines miss a few millinewtons.
  CHECK_THAT(result.difference->standard_uncertainty_N(i), WithinAbs(expected_N, 1e-3));
}

TEST_CASE("matched sag: records are compared as tested, the mismatch first", "[fit]") {
  const Subject a = record("a.csv", "Larch 160", 0.0);
  const Subject b = record("b.csv", "Basalt 150", 50.0);
  CompareOptions options;
  options.sag.load_N = 300.0;
  const auto comparison = compare(a, b, options);
  REQUIRE(comparison);
  CHECK_FALSE(comparison->matched_sag.a);
  CHECK_FALSE(comparison->nearest);
  REQUIRE(comparison->matched_sag.as_tested_a.sag);
  // 200 N and 150 N over 5 N/mm; the loop's strokes carry the load 12 N / 5 N/mm to either side.
  // Because cells at the turns tilt by micrometres.
  CHECK_THAT(comparison->matched_sag.as_tested_a.sag->travel_m, WithinAbs(0.040, 1e-5));
  CHECK_THAT(comparison->matched_sag.as_tested_b.sag->travel_m, WithinAbs(0.030, 1e-5));
  CHECK_FALSE(comparison->matched_sag.as_tested_a.sag->least_m.has_value());
  CHECK_THAT(comparison->matched_sag.as_tested_a.loop_least_m.value(), WithinAbs(0.0376, 1e-5));
  CHECK_THAT(comparison->matched_sag.as_tested_a.loop_most_m.value(), WithinAbs(0.0424, 1e-5));
  const std::vector<std::string> sentences = compare_sentences(*comparison);
  REQUIRE(sentences.size() >= 3);
  CHECK_THAT(sentences[0], Contains("not the same sag") && Contains("Larch 160 rests at 40.0 mm") &&
                               Contains("Basalt 150 at 30.0 mm"));
  CHECK_THAT(sentences[1], Contains("Basalt 150 is firmer from 8 mm to 142 mm, by 50 N"));
}

TEST_CASE("fairness: settings are comparable at the same share of each fork's travel", "[fit]") {
  const Names names{"Larch 160", "Basalt 150"};
  Comparison comparison;
  comparison.a.fork_travel_m = 0.160;
  comparison.b.fork_travel_m = 0.150;
  comparison.matched_sag.load_N = 400.0;
  CHECK_FALSE(judge_fairness(names, comparison).known);
  CHECK_THAT(judge_fairness(names, comparison).sentence, Contains("does not come to rest"));

  comparison.matched_sag.as_tested_a.sag = Sag{0.040, 0.0002, 0.037, 0.043};
  comparison.matched_sag.as_tested_b.sag = Sag{0.0375, 0.0002, 0.035, 0.040};  // 25 % of both
  Fairness fairness = judge_fairness(names, comparison);
  CHECK(fairness.known);
  CHECK(fairness.comparable);
  CHECK_THAT(fairness.sentence,
             Contains("25.0 % of its travel; friction lets it rest from 37 to 43 "
                      "mm") &&
                 Contains("may be compared"));

  // 40 mm of each is not the same share.
  comparison.matched_sag.as_tested_b.sag = Sag{0.040, 0.0002, {}, {}};
  fairness = judge_fairness(names, comparison);
  CHECK_FALSE(fairness.comparable);
  CHECK_THAT(fairness.sentence, Contains("the setting and not the fork"));
  // Knowing little makes nothing fair.
  comparison.matched_sag.as_tested_b.sag->standard_uncertainty_m = 0.002;
  CHECK_FALSE(judge_fairness(names, comparison).comparable);
  CHECK_THAT(judge_fairness(names, comparison).sentence, Contains("too much to call"));
}

TEST_CASE("nearest setting: a fork finds its own setting again", "[fit]") {
  const Subject a = made::model("Larch 160", larch(), 83.0, 2);
  const Subject b = made::model("Larch 160", larch(), 60.0, 0);
  const auto nearest = find_nearest_setting(*a.model, *b.model);
  REQUIRE(nearest);
  CHECK(nearest->spacers == 2);
  CHECK_THAT(protocol::in_unit(nearest->pressure_gauge_Pa, "psi"), WithinAbs(83.0, 1e-9));
  CHECK(nearest->rms_left_N < 1e-9);
  CHECK(nearest->rms_as_set_N > 50.0);
  CHECK_FALSE(nearest->at_pressure_limit);
}

TEST_CASE("nearest setting: no neighbour does better, and the rest is what it is", "[fit]") {
  const Subject a = made::model("Larch 160", larch(), 83.0, 1);
  const Subject b = made::model("Basalt 150", basalt(), 60.0);
  const auto nearest = find_nearest_setting(*a.model, *b.model);
  REQUIRE(nearest);
  const auto rms_N = [&](double psi, int spacers) {
    double squares = 0.0;
    int n = 0;
    for (double x = 0.007; x <= 0.1330001; x += 0.002, ++n) {
      const double left_N =
          larch().force_N(x, pascals(83.0), 1) - basalt().force_N(x, pascals(psi), spacers);
      squares += left_N * left_N;
    }
    return std::sqrt(squares / n);
  };
  const double psi = protocol::in_unit(nearest->pressure_gauge_Pa, "psi");
  // Because both use points every 2 mm from 7 to 133 mm.
  CHECK_THAT(nearest->rms_left_N, WithinRel(rms_N(psi, nearest->spacers), 1e-6));
  CHECK_THAT(psi, WithinAbs(std::round(psi), 1e-9));
  for (int spacers = 0; spacers <= 8; ++spacers) {
    for (int other = 1; other <= 150; ++other) {
      CHECK(rms_N(other, spacers) >= nearest->rms_left_N - 1e-9);
    }
  }
  CHECK(nearest->thirds_left_N.size() == 3);
}

TEST_CASE("nearest setting: the fork's own limit ends the search, and is said", "[fit]") {
  made::Chamber weak = basalt();
  weak.limit_psi = 50.0;
  const Subject a = made::model("Larch 160", larch(), 140.0, 0);
  const Subject b = made::model("Basalt 150", weak, 40.0);
  const auto nearest = find_nearest_setting(*a.model, *b.model);
  REQUIRE(nearest);
  CHECK(nearest->at_pressure_limit);
  CHECK(nearest->pressure_gauge_Pa <= pascals(50.0) + 1e-6);
}

TEST_CASE("nearest setting: the weight decides which travel matters", "[fit]") {
  const Subject a = made::model("Larch 160", larch(), 83.0, 2);
  const Subject b = made::model("Basalt 150", basalt(), 60.0);
  NearestOptions early;
  early.spacers_max = 0;
  early.weight = [](double x) { return x < 0.03 ? 1.0 : 0.0; };
  NearestOptions late = early;
  late.weight = [](double x) { return x > 0.11 ? 1.0 : 0.0; };
  const auto first = find_nearest_setting(*a.model, *b.model, early);
  const auto last = find_nearest_setting(*a.model, *b.model, late);
  REQUIRE(first);
  REQUIRE(last);
  CHECK(first->pressure_gauge_Pa != last->pressure_gauge_Pa);
  CHECK(std::abs(first->thirds_left_N[0]) < std::abs(last->thirds_left_N[0]));
  CHECK(std::abs(first->thirds_left_N[2]) > std::abs(last->thirds_left_N[2]));
}

TEST_CASE("compare: the JSON holds what was promised, in its units", "[fit]") {
  const Subject a = made::model("Larch 160", larch(), 80.0);
  const Subject b = made::model("Basalt 150", basalt(), 70.0);
  CompareOptions options;
  options.sag.load_N = 430.0;
  const auto comparison = compare(a, b, options);
  REQUIRE(comparison);
  const nlohmann::json json = nlohmann::json::parse(compare_json(*comparison).dump());
  for (const nlohmann::json& crossover : json["crossovers"]) {
    const double x = crossover["travel_mm"].get<double>() * 1e-3;
    // Because a line through 2 mm places the crossing of two smooth curves to hundredths.
    CHECK_THAT(larch().force_N(x, pascals(80.0), 0) - basalt().force_N(x, pascals(70.0), 0),
               WithinAbs(0.0, 0.2));
    CHECK(crossover["standard_uncertainty_mm"].get<double>() > 0.0);
  }
  REQUIRE(json["spans"].size() >= 1);
  double at_mm = 7.0;  // 5 % of the 140 mm that both cover
  for (const nlohmann::json& span : json["spans"]) {
    CHECK_THAT(span["from_mm"].get<double>(), WithinAbs(at_mm, 1e-6));
    at_mm = span["to_mm"].get<double>();
    const std::string firmer = span["firmer"];
    const double mean_N = span["mean_difference_N"];
    if (firmer == "a") CHECK(mean_N > 0.0);
    if (firmer == "b") CHECK(mean_N < 0.0);
    CHECK(span["standard_uncertainty_N"].get<double>() > 0.0);
  }
  CHECK_THAT(at_mm, WithinAbs(133.0, 1e-6));
  CHECK(json["thirds"].size() == 3);
  const nlohmann::json& matched_sag = json["matched_sag"];
  CHECK(matched_sag["matched"] == true);
  CHECK(matched_sag["load_N"] == 430.0);
  CHECK_THAT(matched_sag["a"]["sag_percent"].get<double>(), WithinAbs(20.0, 0.05));
  CHECK(matched_sag["a"]["as_tested"]["sag_mm"].is_number());
  CHECK(matched_sag["b"]["pressure_psi"].is_number());
  CHECK(matched_sag["thirds"].size() == 3);
  CHECK(json["nearest_setting"]["pressure_psi"].is_number());
  CHECK(json["sentences"].size() >= 3);

  // The elements' thirds add up to the spring's.
  REQUIRE(json["elements"].size() == 2);
  for (int third = 0; third < 3; ++third) {
    double sum_N = 0.0;
    for (const nlohmann::json& element : json["elements"]) {
      sum_N += element["thirds_N"][static_cast<std::size_t>(third)].get<double>();
    }
    // Because the thirds of the models' own grids begin half a point apart.
    CHECK_THAT(
        sum_N,
        WithinAbs(json["thirds"][static_cast<std::size_t>(third)]["mean_difference_N"], 1.0));
  }
}

TEST_CASE("compare: unequal travel is compared over what both cover", "[fit]") {
  made::Chamber stub = basalt();
  stub.swept_m = 0.080;
  const auto comparison =
      compare(made::model("Larch 160", larch(), 80.0), made::model("Basalt 150", stub, 70.0));
  REQUIRE(comparison);
  // Because 95 % of 80 mm.
  CHECK_THAT(comparison->difference.to_m(), WithinAbs(0.076, 1e-9));
  CHECK_THAT(comparison->spans.back().to_m, WithinAbs(0.076, 1e-9));
}

TEST_CASE("compare: a prediction that fails is named", "[fit]") {
  Subject a = made::model("larch.json", larch(), 80.0);
  a.model->predict = [](const PredictionRequest&) -> protocol::Result<Prediction> {
    return protocol::Error{protocol::Errc::fit_not_usable, "the model is marked not usable"};
  };
  const auto comparison = compare(a, made::model("b.json", basalt(), 70.0));
  REQUIRE_FALSE(comparison);
  CHECK(comparison.error().code == protocol::Errc::fit_not_usable);
  CHECK_THAT(comparison.error().message, Contains("larch.json"));
}

TEST_CASE("sentences: each is made from its numbers", "[fit]") {
  const Names names{"Larch", "Basalt"};
  std::vector<Span> spans = {{0.0075, 0.0121, Firmer::neither, 1.0, 3.0},
                             {0.0121, 0.0882, Firmer::a, 23.2, 4.1},
                             {0.0882, 0.0951, Firmer::neither, 0.2, 3.0},
                             {0.0951, 0.1425, Firmer::b, -12.04, 0.62}};
  const std::vector<std::string> said = span_sentences(names, spans);
  REQUIRE(said.size() == 3);
  CHECK(said[0] == "Larch is firmer from 12 mm to 88 mm, by 23 N +- 4 N on average.");
  CHECK(said[1] == "Basalt is firmer from 95 mm to 142 mm, by 12.0 N +- 0.6 N on average.");
  CHECK(said[2] == "No difference is resolved from 8 mm to 12 mm and from 88 mm to 95 mm.");
  Crossings crossings;
  crossings.crossovers = {{0.0613, 0.0015, false}};
  CHECK(crossover_sentences(names, crossings).at(0) ==
        "They cross at 61.3 mm +- 1.5 mm: below it Larch is the higher, above it Basalt.");
}
