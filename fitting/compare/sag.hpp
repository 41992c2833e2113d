// Sag: where a fork comes to rest under a rider.
#pragma once

#include <Eigen/Core>
#include <optional>
#include <string>
#include <vector>

#include "protocol/result.hpp"

namespace fitting {

// Who sits on the bicycle. The load along the fork's legs is
//   W = g sin(head angle) (front share (rider + bike) - unsprung front mass)
// Defaults are common values, stated with every answer that uses them.
struct Rider {
  double rider_mass_kg = 0.0;
  double bike_mass_kg = 14.0;
  double front_share = 0.45;  // of the weight on the front wheel, seated in the attack position
  double head_angle_rad = 1.13446;  // 65 deg, against the ground
  double unsprung_mass_kg = 2.5;    // front wheel, tyre, lower legs
};

// Local g, N. ERRORS: usage for a share, angle or mass that cannot be, or if nothing is left.
protocol::Result<double> load_along_fork_N(const Rider& rider);

// "80 kg rider, 14 kg bicycle, 45 % on the front wheel, ..."
std::string describe(const Rider& rider);

struct Sag {
  double travel_m = 0.0;
  std::optional<double> standard_uncertainty_m;
  // Where friction lets it rest: spring + friction = W at the least, spring - friction = W at the
  // most. Empty: beyond the travel known, or friction is not.
  std::optional<double> least_m;
  std::optional<double> most_m;
};

// The slow spring (or, without a model, a measured midline) under a load. Friction and uncertainty
// may be empty. No value: the curve does not come to carry the load.
std::optional<Sag> find_sag(const std::vector<double>& travel_m, const Eigen::VectorXd& spring_N,
                            const Eigen::VectorXd& friction_N,
                            const Eigen::VectorXd& standard_uncertainty_N, double load_N);

}  // namespace fitting
