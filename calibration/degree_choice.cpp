#include "calibration/degree_choice.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <set>

namespace calibration {
namespace {

using protocol::Errc;
using protocol::Error;
using protocol::Result;

Result<void> check_spread(const std::vector<Reading>& readings, const Repeats& repeats, Kind kind,
                          int degree) {
  const bool through_origin = kind == Kind::frame;
  std::set<int> loads;
  for (size_t i = 0; i < readings.size(); ++i) {
    if (!through_origin || readings[i].reference != 0.0) loads.insert(repeats.loads[i]);
  }
  const size_t wanted = static_cast<size_t>(degree) + (through_origin ? 1 : 2);
  if (loads.size() >= wanted) return {};
  return Error{
      Errc::calibration_unusable,
      fmt::format("{} different {} cannot show whether the curve is right; take at least {}{}.",
                  loads.size(), kind == Kind::travel ? "positions" : "loads", wanted,
                  through_origin ? " beside zero" : ", zero among them")};
}

Result<void> check_monotonic(const PolynomialFit& fit, const std::vector<double>& readings) {
  auto [low, high] = std::minmax_element(readings.begin(), readings.end());
  // Through the origin the curve is used from there on.
  const double from = fit.through_origin ? std::min(0.0, *low) : *low;
  constexpr int kPlaces = 200;
  const double sign = polynomial_slope(fit.coefficients, from);
  for (int i = 0; i <= kPlaces; ++i) {
    const double x = from + (*high - from) * i / kPlaces;
    if (polynomial_slope(fit.coefficients, x) * sign > 0.0) continue;
    return Error{Errc::calibration_unusable,
                 fmt::format("the fitted curve turns back near a reading of {}; check the readings "
                             "there, or take a lower degree.",
                             x)};
  }
  return {};
}

// The place of the chosen degree among the trials, and why where the test did not decide.
std::pair<size_t, std::string> decide(const std::vector<FittedDegree>& fits, bool any_repeats) {
  if (!fits.front().lack_of_fit) {
    return {0, any_repeats
                   ? "The readings repeat to the last digit, so that lack of fit has no scatter to "
                     "be tested against: a line is taken."
                   : "Nothing was read twice, so that lack of fit cannot be tested: a line is "
                     "taken. Take at least three series, or give the degree."};
  }
  for (size_t i = 0; i < fits.size(); ++i) {
    const std::optional<LackOfFit>& lack = fits[i].lack_of_fit;
    if (lack && lack->probability >= kLackOfFitSignificance) return {i, ""};
  }
  size_t chosen = 0;
  while (chosen + 1 < fits.size() &&
         fits[chosen + 1].fit.residual_standard_deviation <
             (1.0 - kWorthwhileFall) * fits[chosen].fit.residual_standard_deviation) {
    ++chosen;
  }
  std::string remark = fmt::format(
      "No degree up to {} follows the loads to within their repeats; degree {} is taken",
      fits.size(), chosen + 1);
  remark += chosen + 1 < fits.size()
                ? fmt::format(
                      ", beyond which the residual standard deviation falls by less than "
                      "{} %.",
                      protocol::number_text(100.0 * kWorthwhileFall))
                : std::string(", the highest that was tried.");
  return {chosen, std::move(remark)};
}

}  // namespace

DegreeTrial FittedDegree::trial() const {
  return {fit.degree(), fit.residual_standard_deviation, lack_of_fit};
}

Result<FittedDegree> fit_degree(const std::vector<Reading>& readings, Kind kind, int degree) {
  const Repeats repeats = find_repeats(readings);
  if (const Result<void> checked = check_spread(readings, repeats, kind, degree); !checked) {
    return checked.error();
  }
  std::vector<double> x;
  std::vector<double> y;
  for (const Reading& reading : readings) {
    x.push_back(reading.reading);
    y.push_back(reading.reference);
  }
  const bool through_origin = kind == Kind::frame;
  Result<PolynomialFit> fit = fit_polynomial(x, y, degree, through_origin);
  if (!fit) return fit.error();
  Result<PolynomialFit> classical = fit_polynomial(y, x, degree, through_origin);
  if (!classical) return classical.error();
  if (const Result<void> checked = check_monotonic(*fit, x); !checked) return checked.error();
  FittedDegree result;
  result.lack_of_fit = compute_lack_of_fit(*classical, x, repeats.loads, repeats.cells);
  result.fit = std::move(*fit);
  result.classical = std::move(*classical);
  return result;
}

Result<DegreeChoice> choose_degree(const std::vector<Reading>& readings, Kind kind) {
  std::vector<FittedDegree> fits;
  DegreeChoice choice;
  for (int degree = 1; degree <= kDegreeMax; ++degree) {
    Result<FittedDegree> fitted = fit_degree(readings, kind, degree);
    if (!fitted && degree == 1) return fitted.error();
    if (!fitted) break;  // too few loads, or a curve that nobody wants
    choice.trials.push_back(fitted->trial());
    fits.push_back(std::move(*fitted));
  }
  auto [place, remark] = decide(fits, find_repeats(readings).any());
  choice.chosen = std::move(fits[place]);
  choice.remark = std::move(remark);
  return choice;
}

}  // namespace calibration
