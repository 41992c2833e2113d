#include "controller/cli/answers/sag_options.hpp"

#include <fmt/format.h>

#include <CLI/CLI.hpp>

#include "controller/cli/comma_list.hpp"
#include "controller/cli/options.hpp"

namespace controller::cli {
namespace {

using protocol::Dimension;
using protocol::Errc;
using protocol::Error;
using protocol::Result;

Result<void> read_sag(const std::string& text, fitting::SagOptions& out) {
  if (text.empty()) return {};
  const Result<double> share = protocol::parse_quantity(text, Dimension::fraction);
  const Result<double> travel_m = protocol::parse_quantity(text, Dimension::length);
  if (!share && !travel_m) {
    const Error& first = share.error();
    return Error{Errc::usage, fmt::format("--sag: {} A travel such as \"30 mm\" is understood too.",
                                          first.message)};
  }
  const bool possible = share ? *share > 0.0 && *share < 1.0 : *travel_m > 0.0;
  if (!possible) {
    return Error{Errc::usage, fmt::format("--sag \"{}\" is not between full extension and full "
                                          "travel.",
                                          text)};
  }
  if (share) out.sag_share = *share;
  if (!share) out.sag_m = *travel_m;
  return {};
}

void add_rider_options(CLI::App& app, SagWords& words) {
  add_quantity(app, "--rider-mass", Dimension::mass, words.rider_mass_kg,
               "Instead of --load: the load follows from the rider");
  add_quantity(app, "--bike-mass", Dimension::mass, words.bike_mass_kg, "[14 kg]");
  add_quantity(app, "--front-share", Dimension::fraction, words.front_share,
               "Of rider and bicycle, on the front wheel [45 %]");
  add_quantity(app, "--head-angle", Dimension::angle, words.head_angle_rad,
               "Against the ground [65 deg]");
  add_quantity(app, "--unsprung-mass", Dimension::mass, words.unsprung_mass_kg,
               "Of the front: wheel, tyre, lower legs [2.5 kg]");
}

}  // namespace

void add_sag_options(CLI::App& app, SagWords& words) {
  add_quantity(app, "--load", Dimension::force, words.load_N,
               "Along the fork, for the sag [what A carries at its sag]");
  app.add_option("--sag", words.sag,
                 "Wanted, of each fork's travel or as a travel [A's under the load, else 20 %]")
      ->type_name("\"N %\"|\"N mm\"");
  app.add_option("--over", words.over,
                 "Travel over which the closest setting of B is looked for, such as \"20 mm, 120 "
                 "mm\" [5 to 95 % of what both were swept over]")
      ->type_name("\"N mm, N mm\"");
  add_rider_options(app, words);
}

Result<fitting::CompareOptions> compare_options(const SagWords& words) {
  fitting::CompareOptions out;
  const Result<fitting::SagOptions> sag = sag_options(words);
  if (!sag) return sag.error();
  out.sag = *sag;
  if (words.over.empty()) return out;
  std::vector<double> ends_m;
  for (const std::string& word : comma_list(words.over)) {
    const Result<double> end_m = protocol::parse_quantity(word, Dimension::length);
    if (!end_m) return Error{Errc::usage, "--over: " + end_m.error().message};
    ends_m.push_back(*end_m);
  }
  if (ends_m.size() != 2 || ends_m[0] >= ends_m[1]) {
    return Error{Errc::usage, fmt::format("--over \"{}\": say where the range begins and where it "
                                          "ends, such as \"20 mm, 120 mm\".",
                                          words.over)};
  }
  out.nearest.range = fitting::TravelRange{ends_m[0], ends_m[1]};
  return out;
}

Result<fitting::SagOptions> sag_options(const SagWords& words) {
  fitting::SagOptions out;
  const Result<void> sag = read_sag(words.sag, out);
  if (!sag) return sag.error();
  if (words.load_N && *words.load_N <= 0.0) {
    return Error{Errc::usage, "--load must be positive: it presses the fork together."};
  }
  if (words.load_N && words.rider_mass_kg) {
    return Error{Errc::usage, "--load and --rider-mass both say the load; give one of them."};
  }
  out.load_N = words.load_N;
  const bool details =
      words.bike_mass_kg || words.front_share || words.head_angle_rad || words.unsprung_mass_kg;
  if (!words.rider_mass_kg) {
    if (!details) return out;
    return Error{Errc::usage,
                 "--bike-mass, --front-share, --head-angle and --unsprung-mass belong to "
                 "--rider-mass, which is missing."};
  }
  fitting::Rider rider;
  rider.rider_mass_kg = *words.rider_mass_kg;
  rider.bike_mass_kg = words.bike_mass_kg.value_or(rider.bike_mass_kg);
  rider.front_share = words.front_share.value_or(rider.front_share);
  rider.head_angle_rad = words.head_angle_rad.value_or(rider.head_angle_rad);
  rider.unsprung_mass_kg = words.unsprung_mass_kg.value_or(rider.unsprung_mass_kg);
  const Result<double> load_N = fitting::load_along_fork_N(rider);
  if (!load_N) return load_N.error();
  out.rider = rider;
  return out;
}

}  // namespace controller::cli
