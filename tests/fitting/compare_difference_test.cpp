// A - B, its doubt and its band: what is shared cancels, what is not adds up.
#include "fitting/compare/difference.hpp"

#include <Eigen/Cholesky>
#include <catch2/catch.hpp>
#include <random>

#include "fitting/compare/spans.hpp"
#include "tests/fitting/made_records.hpp"

using namespace fitting;
using Catch::Matchers::Contains;
using Catch::Matchers::WithinAbs;
using Catch::Matchers::WithinRel;

namespace {

// A side with forces by formula, and own doubt of the given size, alike over a length.
Side make_side(const std::string& name, const std::function<double(double)>& force, double own_N,
               double length_m = 0.02, double to_m = 0.150) {
  Side side;
  side.name = name;
  const long n = std::lround(to_m / 0.0005) + 1;
  side.midline_N.resize(n);
  side.own_covariance_N2.resize(n, n);
  for (long i = 0; i < n; ++i) {
    side.travel_m.push_back(static_cast<double>(i) * 0.0005);
    side.midline_N(i) = force(side.travel_m.back());
  }
  for (long i = 0; i < n; ++i) {
    for (long j = 0; j < n; ++j) {
      const double lag = static_cast<double>(i - j) * 0.0005 / length_m;
      side.own_covariance_N2(i, j) = own_N * own_N * std::exp(-0.5 * lag * lag);
    }
  }
  side.fork_travel_m = to_m;
  return side;
}

void share(Side& side, const std::string& key, double gain) {
  side.shared.push_back({"load_cell_gain", key, gain * side.midline_N});
}

double line(double x) {
  return 100.0 + 6000.0 * x;
}

CurveAnswer record_answer(const std::string& rig, const std::string& certificate) {
  protocol::SweepRecord record =
      made::sweep({}, [](double x, int d) { return line(x) + 15.0 * d; });
  record.metadata.rig_id = rig;
  if (!certificate.empty()) {
    record.metadata.force_calibration = protocol::AppliedCalibration{};
    record.metadata.force_calibration->id = certificate;
  }
  const auto answer = answer_curve("larch.csv", record);
  REQUIRE(answer);
  return *answer;
}

}  // namespace

TEST_CASE("difference: a shared gain acts on A - B, a gain of one's own on each", "[fit]") {
  Side a = make_side(
      "a", [](double x) { return 1.1 * line(x); }, 0.0);
  Side b = make_side("b", line, 0.0);
  const bool shared = GENERATE(true, false);
  share(a, "certificate 1", 0.01);
  share(b, shared ? "certificate 1" : "certificate 2", 0.01);
  const auto difference = difference_of(a, b);
  REQUIRE(difference);
  const double x = difference->travel_m[100];
  const double expected_N =
      shared ? 0.01 * 0.1 * line(x) : 0.01 * std::hypot(1.1 * line(x), line(x));
  // Because both curves are straight, interpolation adds nothing but rounding.
  CHECK_THAT(difference->standard_uncertainty_N(100), WithinRel(expected_N, 1e-9));
  CHECK_THAT(difference->difference_N(100), WithinRel(0.1 * line(x), 1e-9));
}

TEST_CASE("difference: compared is 5 to 95 % of what both cover", "[fit]") {
  const Side a = make_side("a", line, 1.0, 0.02, 0.150);
  const Side b = make_side("b", line, 1.0, 0.02, 0.120);
  const auto difference = difference_of(a, b);
  REQUIRE(difference);
  // Because the ends are products of decimal fractions.
  CHECK_THAT(difference->from_m(), WithinAbs(0.006, 1e-12));
  CHECK_THAT(difference->to_m(), WithinAbs(0.114, 1e-12));
  CHECK_THAT(difference->covered_to_m, WithinAbs(0.120, 1e-12));

  const Side stub = make_side("stub", line, 1.0, 0.02, 0.004);
  const auto refused = difference_of(a, stub);
  REQUIRE_FALSE(refused);
  CHECK(refused.error().code == protocol::Errc::record_unusable);
  CHECK_THAT(refused.error().message, Contains("less than 5 mm in common"));
}

TEST_CASE("difference: the mean's doubt keeps what is alike over travel", "[fit]") {
  // Own doubt that is one constant does not average away at all; of a short length it does.
  const Side b = make_side("b", line, 0.0);
  const auto stiff = difference_of(make_side("a", line, 2.0, 1e3), b);
  const auto loose = difference_of(make_side("a", line, 2.0, 0.001), b);
  REQUIRE(stiff);
  REQUIRE(loose);
  // Because over 1 km the correlation is 1 to 1e-8.
  CHECK_THAT(stiff->mean_uncertainty_N(0, stiff->size() - 1), WithinRel(2.0, 1e-6));
  // A length L over a range R leaves 2 N sqrt(sqrt(2 pi) L / R), to the ends' few percent.
  CHECK_THAT(loose->mean_uncertainty_N(0, loose->size() - 1),
             WithinRel(2.0 * std::sqrt(std::sqrt(2.0 * 3.141592653589793) * 0.001 / 0.135), 0.03));
}

TEST_CASE("difference: the band's factor grows as the doubt falls apart along travel", "[fit]") {
  const auto factor = [](double length_m) {
    const auto difference =
        difference_of(make_side("a", line, 1.0, length_m), make_side("b", line, 0.0));
    REQUIRE(difference);
    return difference->band_factor;
  };
  // One constant: the pointwise 1.96, which 2000 draws tell to 0.05.
  CHECK_THAT(factor(1e3), WithinAbs(1.96, 0.08));
  const double long_length = factor(0.040);
  const double short_length = factor(0.010);
  CAPTURE(long_length, short_length);
  CHECK(long_length > 2.1);
  CHECK(short_length > long_length + 0.2);
  CHECK(short_length < 3.3);
  // 50 independent points: the normal quantile at 1 - 0.05 / 2 / 50 is 3.2905, and with both tails
  // of each exactly 3.284.
  const Eigen::MatrixXd independent = Eigen::MatrixXd::Identity(50, 50);
  CHECK_THAT(simultaneous_factor(independent, 20000, 1), WithinAbs(3.284, 0.03));
  CHECK(simultaneous_factor(independent, 2000, 7) == simultaneous_factor(independent, 2000, 7));
  CHECK(simultaneous_factor(Eigen::MatrixXd::Zero(5, 5), 100, 1) == 1.96);
}

TEST_CASE("difference: equal curves stay inside the band in 95 of 100 trials", "[fit][property]") {
  const double length_m = 0.015;
  Side a = make_side("a", line, 1.5, length_m);
  const Side b = make_side("b", line, 0.0);
  const Eigen::LLT<Eigen::MatrixXd> root(
      a.own_covariance_N2 +
      1e-9 * Eigen::MatrixXd::Identity(a.midline_N.size(), a.midline_N.size()));
  const Eigen::VectorXd truth = a.midline_N;
  std::mt19937_64 engine(11);
  std::normal_distribution<double> normal;
  DifferenceOptions coarse;
  coarse.step_m = 0.002;
  int outside = 0;
  const int trials = 400;
  for (int trial = 0; trial < trials; ++trial) {
    Eigen::VectorXd z(truth.size());
    for (Eigen::Index i = 0; i < z.size(); ++i) z(i) = normal(engine);
    a.midline_N = truth + root.matrixL() * z;
    const auto difference = difference_of(a, b, coarse);
    REQUIRE(difference);
    const std::vector<Span> spans = find_spans(*difference);
    outside += spans.size() == 1 && spans[0].firmer == Firmer::neither ? 0 : 1;
  }
  CAPTURE(outside);
  // Binomial with 400 trials at 5 %: 20 expected, outside 7 .. 36 once in 2000 seeds.
  CHECK(outside >= 7);
  CHECK(outside <= 36);
}

TEST_CASE("side: a record's doubt is gain, zero, travel zero and noise, never the half-loop",
          "[fit]") {
  const CurveAnswer answer = record_answer("", "");
  const Side side = side_from_record(answer);
  const auto i = static_cast<Eigen::Index>(side.travel_m.size() / 2);
  // Because the made record has no noise: zero 1 N, and 0.2 mm on 6 N/mm. The half-loop is 15 N.
  CHECK_THAT(std::sqrt(side.own_covariance_N2(i, i)), WithinAbs(std::hypot(1.0, 1.2), 0.02));
  REQUIRE(side.shared.size() == 1);
  CHECK_THAT(side.shared[0].force_N(i), WithinRel(0.005 * side.midline_N(i), 1e-12));
}

TEST_CASE("side: whose gain is shared with whom", "[fit]") {
  struct Row {
    const char* rig_a;
    const char* certificate_a;
    const char* rig_b;
    const char* certificate_b;
    bool shared;
  };
  const auto row = GENERATE(values<Row>({
      {"", "", "", "", true},                 // neither names a rig
      {"bench", "", "bench", "", true},       // the same rig
      {"bench", "", "other", "", false},      // two rigs
      {"bench", "", "", "", false},           // one names a rig, one does not
      {"bench", "aa", "bench", "aa", true},   // one certificate
      {"bench", "aa", "bench", "bb", false},  // calibrated anew in between
      {"bench", "aa", "bench", "", false},    // one of them without
  }));
  CAPTURE(row.rig_a, row.certificate_a, row.rig_b, row.certificate_b);
  const Side a = side_from_record(record_answer(row.rig_a, row.certificate_a));
  const Side b = side_from_record(record_answer(row.rig_b, row.certificate_b));
  const auto difference = difference_of(a, b);
  REQUIRE(difference);
  const Eigen::Index last = difference->size() - 1;
  const double force_N = line(difference->to_m());
  const double own_N = std::sqrt(2.0) * std::hypot(1.0, 1.2);
  const double gain_N = row.shared ? 0.0 : std::sqrt(2.0) * 0.005 * force_N;
  // Because the local rate at the end leaves a few millinewtons.
  CHECK_THAT(difference->standard_uncertainty_N(last), WithinAbs(std::hypot(own_N, gain_N), 0.05));
}

TEST_CASE("side: a model's shared doubts meet a record's, whatever their sign", "[fit]") {
  FittedModel model;
  model.fork.name = "Basalt";
  model.context.force_calibration_id = "aa";
  model.context.rig_id = "bench";
  Prediction prediction;
  const CurveAnswer answer = record_answer("bench", "aa");
  prediction.travel_m = answer.midline.travel_m;
  const Eigen::VectorXd midline = answer.midline.force_N;
  prediction.midline_N.assign(midline.data(), midline.data() + midline.size());
  prediction.own_midline_covariance = Eigen::MatrixXd::Zero(midline.size(), midline.size());
  const Eigen::VectorXd gain = -0.005 * midline;
  const Eigen::VectorXd travel = Eigen::VectorXd::Constant(midline.size(), 0.7);
  prediction.shared = {{"load_cell_gain", gain, gain}, {"travel_zero", travel, travel}};
  const Side a = side_from_record(answer);
  const Side b = side_from_prediction("basalt.json", model, prediction);
  REQUIRE(b.shared.size() == 1);  // top-out is found anew every time: not shared
  CHECK(b.shared[0].key == a.shared[0].key);
  const auto difference = difference_of(a, b);
  REQUIRE(difference);
  // Because equal curves under one certificate keep no gain: zero, travel zero of both.
  CHECK_THAT(difference->standard_uncertainty_N(100),
             WithinAbs(std::sqrt(1.0 + 1.2 * 1.2 + 0.7 * 0.7), 0.02));
}

TEST_CASE("spans: who is firmer, from where to where, by how much", "[fit]") {
  // A is 20 N firmer below 60 mm, 20 N softer above 90 mm, in a straight line between.
  const auto step = [](double x) {
    return line(x) + 20.0 * std::clamp((0.075 - x) / 0.015, -1.0, 1.0);
  };
  const auto difference = difference_of(make_side("a", step, 1.0), make_side("b", line, 0.0));
  REQUIRE(difference);
  const std::vector<Span> spans = find_spans(*difference);
  REQUIRE(spans.size() == 3);
  CHECK(spans[0].firmer == Firmer::a);
  CHECK(spans[1].firmer == Firmer::neither);
  CHECK(spans[2].firmer == Firmer::b);
  CHECK(spans[0].from_m == difference->from_m());
  CHECK(spans[2].to_m == difference->to_m());
  CHECK(spans[0].to_m == spans[1].from_m);
  CHECK(spans[1].to_m == spans[2].from_m);
  // It leaves the band where 20 N (75 mm - x) / 15 mm is k times 1 N, to half a grid step.
  CHECK_THAT(spans[0].to_m, WithinAbs(0.075 - difference->band_factor * 0.015 / 20.0, 0.0003));
  CHECK(spans[0].mean_difference_N > 18.0);
  CHECK(spans[0].mean_difference_N < 20.0);
  CHECK(spans[2].mean_difference_N < -18.0);
  CHECK(spans[0].standard_uncertainty_N > 0.3);
  CHECK(spans[0].standard_uncertainty_N < 1.0);

  const std::vector<Span> thirds = find_thirds(*difference);
  REQUIRE(thirds.size() == 3);
  CHECK(thirds[0].firmer == Firmer::a);
  CHECK(thirds[1].firmer == Firmer::neither);
  CHECK(thirds[2].firmer == Firmer::b);
  CHECK_THAT(thirds[1].from_m, WithinAbs(0.0525, 1e-9));  // because (7.5 + 45) mm
  CHECK_THAT(thirds[0].mean_difference_N, WithinAbs(20.0, 1e-6));
}

TEST_CASE("spans: a curve compared with itself is nowhere firmer", "[fit]") {
  const double own_N = GENERATE(0.0, 1.0);
  const Side a = make_side("a", line, own_N);
  const auto difference = difference_of(a, a);
  REQUIRE(difference);
  const std::vector<Span> spans = find_spans(*difference);
  REQUIRE(spans.size() == 1);
  CHECK(spans[0].firmer == Firmer::neither);
  CHECK(spans[0].mean_difference_N == 0.0);
  for (const Span& third : find_thirds(*difference)) CHECK(third.firmer == Firmer::neither);
}
