// The options that say who sits on the bicycle and how deep it is to sag, shared by compare and
// report.
#pragma once

#include <optional>
#include <string>

#include "fitting/compare/comparison.hpp"
#include "fitting/compare/matched_sag.hpp"

namespace CLI {
class App;
}

namespace controller::cli {

// As said; empty: not said.
struct SagWords {
  std::optional<double> load_N;
  std::string sag;
  std::optional<double> rider_mass_kg;
  std::optional<double> bike_mass_kg;
  std::optional<double> front_share;
  std::optional<double> head_angle_rad;
  std::optional<double> unsprung_mass_kg;
  std::string over;
};

// --load or --rider-mass with its details, --sag, and --over for the closest setting.
void add_sag_options(CLI::App& app, SagWords& words);

// ERRORS: usage for a sag, load or rider that cannot be, or for both a load and a rider.
protocol::Result<fitting::SagOptions> sag_options(const SagWords& words);

// The options of a comparison under these words. ERRORS: as sag_options; usage for a range that is
// none.
protocol::Result<fitting::CompareOptions> compare_options(const SagWords& words);

}  // namespace controller::cli
