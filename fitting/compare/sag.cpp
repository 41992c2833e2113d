#include "fitting/compare/sag.hpp"

#include <fmt/core.h>

#include <cmath>

#include "fitting/curve/curve.hpp"
#include "protocol/units.hpp"

namespace fitting {
namespace {

// Common practice, no source: no fork is made for more.
constexpr double kHeaviest_kg = 250.0;

}  // namespace

protocol::Result<double> load_along_fork_N(const Rider& rider) {
  using protocol::Errc;
  using protocol::Error;
  if (rider.front_share <= 0.0 || rider.front_share >= 1.0) {
    return Error{Errc::usage,
                 fmt::format("a front share of {:.0f} % cannot be; say how much of the "
                             "weight is on the front wheel, such as \"45 %\"",
                             rider.front_share * 100.0)};
  }
  if (rider.rider_mass_kg > kHeaviest_kg || rider.bike_mass_kg > kHeaviest_kg) {
    return Error{Errc::usage,
                 fmt::format("{:.0f} kg on a bicycle of {:.0f} kg cannot be; say masses such as "
                             "\"80 kg\" or \"176 lb\"",
                             rider.rider_mass_kg, rider.bike_mass_kg)};
  }
  const double head_deg = protocol::in_unit(rider.head_angle_rad, "deg");
  if (head_deg < 30.0 || head_deg > 90.0) {
    return Error{Errc::usage, fmt::format("a head angle of {:.1f} deg cannot be; it is measured "
                                          "against the ground, such as \"65 deg\"",
                                          head_deg)};
  }
  const double carried_kg =
      rider.front_share * (rider.rider_mass_kg + rider.bike_mass_kg) - rider.unsprung_mass_kg;
  if (rider.rider_mass_kg <= 0.0 || rider.bike_mass_kg < 0.0 || rider.unsprung_mass_kg < 0.0 ||
      carried_kg <= 0.0) {
    return Error{Errc::usage,
                 fmt::format("with {} nothing is left for the fork to carry; check the masses",
                             describe(rider))};
  }
  return protocol::kStandardGravity_m_s2 * std::sin(rider.head_angle_rad) * carried_kg;
}

std::string describe(const Rider& rider) {
  return fmt::format(
      "a rider of {:.1f} kg, a bicycle of {:.1f} kg, {:.0f} % of both on the front wheel, {:.1f} "
      "kg "
      "of it unsprung, and a head angle of {:.1f} deg",
      rider.rider_mass_kg, rider.bike_mass_kg, rider.front_share * 100.0, rider.unsprung_mass_kg,
      protocol::in_unit(rider.head_angle_rad, "deg"));
}

std::optional<Sag> find_sag(const std::vector<double>& travel_m, const Eigen::VectorXd& spring_N,
                            const Eigen::VectorXd& friction_N,
                            const Eigen::VectorXd& standard_uncertainty_N, double load_N) {
  const std::optional<double> place_m = travel_at_force(travel_m, spring_N, load_N);
  if (!place_m) return std::nullopt;
  Sag sag;
  sag.travel_m = *place_m;
  // The rate over a millimetre on either side, as far as the curve goes.
  const double low_m = std::max(travel_m.front(), *place_m - 0.001);
  const double high_m = std::min(travel_m.back(), *place_m + 0.001);
  const double rate_N_m =
      (*force_at(travel_m, spring_N, high_m) - *force_at(travel_m, spring_N, low_m)) /
      (high_m - low_m);
  if (standard_uncertainty_N.size() == spring_N.size() && rate_N_m > 0.0) {
    sag.standard_uncertainty_m = *force_at(travel_m, standard_uncertainty_N, *place_m) / rate_N_m;
  }
  if (friction_N.size() == spring_N.size()) {
    sag.least_m = travel_at_force(travel_m, spring_N + friction_N, load_N);
    sag.most_m = travel_at_force(travel_m, spring_N - friction_N, load_N);
  }
  return sag;
}

}  // namespace fitting
