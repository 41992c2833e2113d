#include <algorithm>
#include <catch2/catch.hpp>
#include <cmath>
#include <limits>

#include "fitting/report/decimate.hpp"

using namespace fitting;

namespace {

// A loop of 20 000 rows, up and down, with one spike on the way up and one on the way down.
struct SpikyLoop {
  std::vector<double> x;
  std::vector<double> y;

  SpikyLoop() {
    for (int i = 0; i < 20000; ++i) {
      const bool up = i < 10000;
      const double travel = up ? i * 0.0146 : (20000 - i) * 0.0146;
      x.push_back(travel);
      y.push_back(5.0 * travel + (up ? 20.0 : -20.0));
    }
    y[4321] = 2000.0;
    y[15678] = -500.0;
  }
};

}  // namespace

TEST_CASE("decimate: a short curve is left as it is", "[fit]") {
  const std::vector<double> x = {1, 2, 3};
  const std::vector<double> y = {3, 2, 1};
  CHECK(kept_rows({&x, &y}, 2000) == std::vector<std::size_t>{0, 1, 2});
}

TEST_CASE("decimate: a loop keeps its order, its ends, its turning point and its spikes", "[fit]") {
  const SpikyLoop loop;
  const auto rows = kept_rows({&loop.x, &loop.y}, 2000);
  CHECK(rows.size() <= 2000);
  CHECK(rows.size() > 500);
  CHECK(std::is_sorted(rows.begin(), rows.end()));
  CHECK(std::adjacent_find(rows.begin(), rows.end()) == rows.end());
  CHECK(rows.front() == 0);
  CHECK(rows.back() == 19999);
  const auto kept = [&](std::size_t row) { return std::count(rows.begin(), rows.end(), row) == 1; };
  CHECK(kept(4321));
  CHECK(kept(15678));
  const auto turn =
      static_cast<std::size_t>(std::max_element(loop.x.begin(), loop.x.end()) - loop.x.begin());
  CHECK(kept(turn));
}

TEST_CASE("decimate: gaps stay gaps", "[fit]") {
  std::vector<double> x;
  std::vector<double> y;
  for (int i = 0; i < 9000; ++i) {
    x.push_back(i);
    y.push_back(i >= 4000 && i < 5000 ? std::numeric_limits<double>::quiet_NaN() : 1.0);
  }
  const auto rows = kept_rows({&x, &y}, 2000);
  CHECK(rows.size() <= 2000);
  CHECK(std::any_of(rows.begin(), rows.end(), [&](std::size_t row) { return std::isnan(y[row]); }));
  // No kept row is followed over the gap by another without a break between them.
  for (std::size_t i = 1; i < rows.size(); ++i) {
    CHECK_FALSE((rows[i - 1] < 4000 && rows[i] >= 5000));
  }
}

TEST_CASE("decimate: a band keeps the extremes of both its edges", "[fit]") {
  std::vector<double> x;
  std::vector<double> low;
  std::vector<double> high;
  for (int i = 0; i < 7000; ++i) {
    x.push_back(i);
    low.push_back(i == 3333 ? -9.0 : 0.0);
    high.push_back(i == 5555 ? 9.0 : 1.0);
  }
  const auto rows = kept_rows({&x, &low, &high}, 2000);
  CHECK(rows.size() <= 2000);
  CHECK(std::count(rows.begin(), rows.end(), 3333) == 1);
  CHECK(std::count(rows.begin(), rows.end(), 5555) == 1);
}
