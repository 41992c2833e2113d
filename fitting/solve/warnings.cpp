#include "fitting/solve/warnings.hpp"

#include <fmt/format.h>

#include <cmath>

#include "fitting/solve/determined.hpp"

namespace fitting {
namespace {

constexpr double kStrainWarning = 3.0;

}  // namespace

void warn_of_strain(const FitInput& input, const LawRun& run, FittedModel& model) {
  for (const LinearPrior& prior : run.problem.priors) {
    if (prior.terms.size() != 1) continue;
    const auto [at, coefficient] = prior.terms.front();
    const double strain =
        std::abs(coefficient * run.solution.values(at) - prior.target) / prior.standard_uncertainty;
    if (strain < kStrainWarning) continue;
    const std::string cause = protocol::has_air_spring(input.fork.kind)
                                  ? "; a diameter, a pressure or the travel may be wrong."
                                  : "; the fork file or the travel may be wrong.";
    if (at >= run.map.shared_size()) {
      const auto sweep = static_cast<std::size_t>(at - run.map.shared_size());
      model.warnings.push_back(
          fmt::format("the fill of '{}' differs from its reading by {:.1f} of the gauge's standard "
                      "uncertainties{}",
                      input.records[sweep].metadata.record_id, strain, cause));
      continue;
    }
    const FreeParameter& free = run.map.free[static_cast<std::size_t>(at)];
    // Without a clock these two hold the heat's share of the loop.
    const bool holds_heat = is_friction(free.index) || free.index == kPreslidingTravel;
    if (!input.has_time && holds_heat) continue;
    model.warnings.push_back(fmt::format("{} lies {:.1f} standard uncertainties from what was {}{}",
                                         kLawParameters[free.index].name, strain,
                                         free.prior_is_stated ? "stated" : "assumed", cause));
  }
}

void warn_of_assumptions(const FitInput& input, FittedModel& model) {
  if (input.spikes > 0) {
    model.warnings.push_back(fmt::format(
        "{} rows jump off the curve and back and were left out; look at the load cell's cable.",
        input.spikes));
  }
  for (const protocol::SweepRecord& record : input.records) {
    const protocol::Metadata& about = record.metadata;
    if (about.state == protocol::RecordState::complete) continue;
    model.warnings.push_back(
        fmt::format("the record {} was interrupted: {} Its {} rows were fitted.", about.record_id,
                    about.state_reason, record.size()));
  }
  const auto assumed = [&](bool missing, const std::string& what) {
    if (missing) model.warnings.push_back("the fork file gives no " + what + "; it was assumed.");
  };
  const protocol::Fork& fork = input.fork;
  if (protocol::has_lower_legs(fork.kind)) {
    assumed(!fork.lower_legs.stanchion_diameter_m, "stanchion_diameter (34 mm)");
    assumed(!fork.damper_rod_diameter_m, "damper_rod_diameter (8 mm, give or take its area)");
    assumed(!fork.lower_legs.volume_m3, "lower leg volume (estimated with a wide prior)");
  }
  if (!protocol::has_air_spring(fork.kind)) return;
  assumed(!fork.air_spring.positive_volume_m3, "positive_volume (estimated with a wide prior)");
  assumed(!fork.air_spring.negative_volume_m3, "negative_volume (estimated with a wide prior)");
  assumed(!fork.air_spring.transfer_travel_m, "transfer_travel (3 mm to start from)");
  assumed(input.any_spacers && !fork.air_spring.spacer_volume_m3,
          "spacer_volume (8 cm3 to start from)");
}

}  // namespace fitting
