// A ride's log against signals whose answers are known in closed form.
#include <catch2/catch.hpp>
#include <cmath>
#include <functional>
#include <numbers>
#include <random>

#include "fitting/ride/ride_json.hpp"

using namespace fitting;
using Catch::Matchers::Contains;
using Catch::Matchers::WithinAbs;
using Catch::Matchers::WithinRel;

namespace {

constexpr double kFork_m = 0.160;
constexpr double kPi = std::numbers::pi;

using Signal = std::function<double(double time_s)>;

// Whole periods, evenly sampled or not: jitter is a share of the step.
RideLog log_of(const Signal& travel_m, double duration_s, double rate_Hz, double jitter = 0.0) {
  RideLog out;
  out.name = "ride.csv";
  std::mt19937_64 engine(7);
  std::uniform_real_distribution<double> shift(-jitter, jitter);
  const auto count = static_cast<int>(std::lround(duration_s * rate_Hz));
  for (int i = 0; i <= count; ++i) {
    const bool ends = i == 0 || i == count;
    const double time_s = (i + (ends ? 0.0 : shift(engine))) / rate_Hz;
    out.time_s.push_back(time_s);
    out.travel_m.push_back(travel_m(time_s));
  }
  return out;
}

RideAnswer answer(const RideLog& log, const RideQuestion& question = {}) {
  TraceOptions plain;
  plain.zero = RideZero::none;
  const auto trace = make_trace(log, kFork_m, plain);
  REQUIRE(trace);
  return answer_ride(*trace, question);
}

constexpr double kMiddle_m = 0.080;
constexpr double kReach_m = 0.050;
constexpr double kHz = 1.5;

double sine(double time_s) {
  return kMiddle_m + kReach_m * std::sin(2.0 * kPi * kHz * time_s);
}

double triangle(double time_s) {
  const double phase = time_s * kHz - std::floor(time_s * kHz);
  const double wave =
      phase < 0.25 ? 4.0 * phase : (phase < 0.75 ? 2.0 - 4.0 * phase : 4.0 * phase - 4.0);
  return kMiddle_m + kReach_m * wave;
}

}  // namespace

TEST_CASE("ride: a sine's time beyond, mean, way and speeds are those of the formulas", "[ride]") {
  const double jitter = GENERATE(0.0, 0.45);
  const double rate_Hz = 500.0;
  const double duration_s = 20.0;  // 30 periods
  const RideAnswer ride = answer(log_of(sine, duration_s, rate_Hz, jitter));
  // A chord lies below its arc by no more than A (w h)^2 / 8, which moves a place at most so far;
  // where the sine is steepest that is (w h)^2 / 8 / pi of the time, at its turns its root.
  const double bend = std::pow(2.0 * kPi * kHz * (1.0 + 2.0 * jitter) / rate_Hz, 2.0) / 8.0;
  for (const double x_m : {0.035, 0.060, 0.080, 0.110, 0.125}) {
    const double expected = std::acos((x_m - kMiddle_m) / kReach_m) / kPi;
    CAPTURE(x_m, jitter);
    CHECK_THAT(ride.time.share_beyond(x_m), WithinAbs(expected, std::sqrt(2.0 * bend) / kPi));
  }
  CHECK_THAT(ride.summary.time_s, WithinRel(duration_s, 1e-12));
  CHECK_THAT(ride.summary.mean_m, WithinAbs(kMiddle_m, kReach_m * bend));
  CHECK_THAT(ride.summary.deepest_m, WithinAbs(kMiddle_m + kReach_m, 4.0 * kReach_m * bend));
  // Each period goes 2 A in and 2 A out; each turn is cut short by what a sample misses of it.
  const double way_m = 2.0 * kReach_m * kHz * duration_s;
  CHECK_THAT(ride.summary.compressed_m, WithinRel(way_m, 4.0 * bend));
  CHECK_THAT(ride.summary.extended_m, WithinRel(way_m, 4.0 * bend));
  // Half of the compression is slower than A w sin(pi/4), and so on; the slope of a line over 8 ms
  // to either side falls short by (w h)^2 / 10, and a quantile among samples is one of them.
  const double top_m_s = 2.0 * kPi * kHz * kReach_m;
  for (std::size_t i = 0; i < ride.speed_shares.size(); ++i) {
    const double expected_m_s = top_m_s * std::sin(0.5 * kPi * ride.speed_shares[i]);
    CHECK_THAT(ride.speeds.compression_m_s[i], WithinAbs(expected_m_s, 0.01 * top_m_s));
    CHECK_THAT(ride.speeds.extension_m_s[i], WithinAbs(expected_m_s, 0.01 * top_m_s));
  }
}

TEST_CASE("ride: a triangle spends its time evenly and knows one speed", "[ride]") {
  RideQuestion question;
  question.band_edges_m = {0.030, 0.055, 0.080, 0.130};
  const RideAnswer ride = answer(log_of(triangle, 20.0, 600.0), question);
  // Samples fall on the corners, so that straight lines are the signal itself.
  CHECK_THAT(ride.bands[0].share, WithinAbs(0.25, 1e-9));
  CHECK_THAT(ride.bands[1].share, WithinAbs(0.25, 1e-9));
  CHECK_THAT(ride.bands[2].share, WithinAbs(0.50, 1e-9));
  CHECK_THAT(ride.summary.mean_m, WithinAbs(kMiddle_m, 1e-12));
  CHECK_THAT(ride.summary.compressed_m, WithinRel(2.0 * kReach_m * kHz * 20.0, 1e-9));
  const double speed_m_s = 4.0 * kReach_m * kHz;
  CHECK_THAT(ride.speeds.compression_m_s[0], WithinRel(speed_m_s, 1e-9));
  CHECK_THAT(ride.speeds.extension_m_s[2], WithinRel(speed_m_s, 1e-9));
}

TEST_CASE("ride: a step lies where it lay, and most of the time stands still", "[ride]") {
  const auto step = [](double time_s) { return time_s < 6.0 ? 0.020 : 0.090; };
  const RideAnswer ride = answer(log_of(step, 10.0, 200.0));
  // The way up takes one sample step of 5 ms and passes 40 mm at 2/7 of it.
  CHECK_THAT(ride.time.share_beyond(0.040), WithinAbs((4.0 + 0.005 * 5.0 / 7.0) / 10.0, 1e-9));
  CHECK_THAT(ride.summary.mean_m, WithinAbs((6.0 * 0.020 + 4.0 * 0.090) / 10.0, 2e-5));
  CHECK(ride.summary.still_share > 0.99);
  CHECK_THAT(ride.summary.compressed_m, WithinAbs(0.070, 1e-12));
  CHECK(ride.summary.extended_m == 0.0);
  CHECK(std::isnan(ride.speeds.extension_m_s[0]));
  CHECK(ride_json(ride)["extension_speed_m_s"][0].is_null());
}

TEST_CASE("ride: what is wrong with a log is found and said", "[ride]") {
  const RideLog sound = log_of(sine, 20.0, 200.0);
  const auto refused = [](const RideLog& log) {
    const auto trace = make_trace(log, kFork_m);
    REQUIRE_FALSE(trace);
    CHECK(trace.error().code == protocol::Errc::record_unusable);
    return trace.error().message;
  };
  SECTION("a clock in milliseconds read as seconds") {
    RideLog log = sound;
    for (double& time_s : log.time_s) time_s *= 1e3;
    CHECK_THAT(refused(log), Contains("time=NAME:ms"));
  }
  SECTION("metres read as millimetres, and millimetres as inches") {
    RideLog log = sound;
    for (double& travel_m : log.travel_m) travel_m *= 1e-3;
    CHECK_THAT(refused(log), Contains("never moves") && Contains("travel=NAME:UNIT"));
    log = sound;
    for (double& travel_m : log.travel_m) travel_m *= 25.4;
    TraceOptions options;
    options.zero = RideZero::none;
    CHECK_THAT(make_trace(log, kFork_m, options).error().message, Contains("the fork has 160 mm"));
  }
  SECTION("too short") {
    CHECK_THAT(refused(log_of(sine, 0.2, 200.0)), Contains("too few"));
  }
  SECTION("a gap counts no time") {
    RideLog log;
    log.name = "gap.csv";
    for (std::size_t i = 0; i < sound.time_s.size(); ++i) {
      if (sound.time_s[i] > 5.0 && sound.time_s[i] < 8.0) continue;
      log.time_s.push_back(sound.time_s[i]);
      log.travel_m.push_back(sound.travel_m[i]);
    }
    const auto trace = make_trace(log, kFork_m);
    REQUIRE(trace);
    CHECK_THAT(trace->gaps_s, WithinAbs(3.0, 1e-9));
    CHECK_THAT(summarise(*trace).time_s, WithinAbs(17.0, 1e-9));
    CHECK_THAT(trace->remarks.front(), Contains("silent 1 time") && Contains("3.0 s"));
  }
  SECTION("a clock that stands, and a spike") {
    RideLog log = sound;
    log.time_s[700] = log.time_s[699];
    log.travel_m[1200] += 0.150;
    const auto trace = make_trace(log, kFork_m);
    REQUIRE(trace);
    CHECK(trace->size() == sound.time_s.size() - 2);
    CHECK_THAT(trace->remarks[0], Contains("1 samples stand"));
    CHECK_THAT(trace->remarks[1], Contains("1 samples jump"));
  }
  SECTION("a sensor that does not read nothing at full extension") {
    RideLog log =
        log_of([](double t) { return std::max(0.0, sine(t) - 0.040) + 0.012; }, 20.0, 200.0);
    const auto trace = make_trace(log, kFork_m);
    REQUIRE(trace);
    CHECK_THAT(trace->zero_taken_off_m, WithinAbs(0.012, 1e-9));
    CHECK_THAT(trace->remarks.front(), Contains("12.0 mm") && Contains("--zero none"));
    TraceOptions given;
    given.zero = RideZero::given;
    given.zero_m = 0.010;
    CHECK_THAT(summarise(*make_trace(log, kFork_m, given)).mean_m - summarise(*trace).mean_m,
               WithinAbs(0.002, 1e-9));
  }
}

TEST_CASE("ride: the bench difference is weighted by where the time was spent", "[ride]") {
  Difference difference;
  difference.step_m = 5e-4;
  const int count = 301;  // 0 to 150 mm
  difference.difference_N.resize(count);
  for (int i = 0; i < count; ++i) {
    difference.travel_m.push_back(5e-4 * i);
    difference.difference_N(i) = 12.0 - 200.0 * difference.travel_m.back();
  }
  // One standard uncertainty of 3 N that moves all of it alike.
  difference.covariance_N2 = Eigen::MatrixXd::Constant(count, count, 9.0);
  const RideAnswer ride = answer(log_of(sine, 20.0, 500.0));
  const RiddenDifference ridden = weigh_by_ride(difference, {&ride.time});
  // A straight difference has the mean of the mean travel.
  CHECK_THAT(ridden.mean_N, WithinAbs(12.0 - 200.0 * kMiddle_m, 1e-3));
  CHECK_THAT(ridden.standard_uncertainty_N, WithinRel(3.0, 1e-9));
  CHECK_THAT(ridden.share_covered, WithinAbs(1.0, 1e-9));

  // Half of the ride lies beyond what the curves cover.
  Difference half = difference;
  half.travel_m.resize(161);  // to 80 mm
  half.difference_N = difference.difference_N.head(161).eval();
  half.covariance_N2 = difference.covariance_N2.topLeftCorner(161, 161).eval();
  const RiddenDifference above = weigh_by_ride(half, {&ride.time});
  CHECK_THAT(above.share_covered, WithinAbs(0.5, 1e-3));
  // Of a sine's lower half the mean lies 2 A / pi below the middle.
  CHECK_THAT(above.mean_N, WithinAbs(12.0 - 200.0 * (kMiddle_m - 2.0 * kReach_m / kPi), 0.02));
}
