// How the numbers came about and how far they can be trusted, in words for the reader of the
// report.
#include <fmt/format.h>

#include "fitting/report/comparison_report.hpp"
#include "fitting/report/numbers.hpp"

namespace fitting {
namespace {

std::string mounts_text(const ComparisonInput& input) {
  if (!input.mounts) {
    return "No fork was swept in more than one mounting, so what mounting it anew changes is in no "
           "uncertainty here.";
  }
  const MountScatter& mounts = *input.mounts;
  return fmt::format(
      "Mounting a fork anew moved its midline by {} rms, from {} mounting{} of {} and {} of {}. "
      "The "
      "bands of every difference hold that scatter, widened by Student's factor for {} degree{} of "
      "freedom.",
      input.units.force.text(mounts.rms_N, 1), mounts.mountings_a,
      mounts.mountings_a == 1 ? "" : "s", input.a.label, mounts.mountings_b, input.b.label,
      mounts.degrees_of_freedom, mounts.degrees_of_freedom == 1 ? "" : "s");
}

}  // namespace

Section method_section(const ComparisonInput& input) {
  Section section{"method", "Method and uncertainty", {}};
  auto& blocks = section.blocks;
  blocks.push_back(Paragraph{
      "Each fork is pressed slowly through its travel and back while force and travel are "
      "recorded. Compression is positive, travel 0 is full extension. The mean of the two strokes "
      "at equal travel is the midline: symmetric friction is gone from it, the heat of the gas is "
      "not. Half their difference is the half-loop, which holds friction and heat together and is "
      "never called friction here."});
  blocks.push_back(Paragraph{
      "A physical model is fitted to all sweeps of a fork at once: positive and negative air "
      "chamber with their transfer port, air in the lower legs, preload, bottom-out bumper, seal "
      "friction, and the heat that the gas gives to the walls and takes back. From it follow the "
      "slow spring, which is what a fork does at rest and without friction, the settled loop at "
      "the speed of the test, and each element's part."});
  const UnitScale& warmth = input.units.temperature;
  blocks.push_back(Paragraph{
      fmt::format("The gas is taken as ideal. Between 5 and 20 bar (73 and 290 psi) at {} to {} "
                  "air departs from "
                  "that by 0.1 to 0.6 %; at 20 bar and {} by 1.2 %.",
                  warmth.number(293.15, 0), warmth.text(300.15, 0), warmth.text(273.15, 0))});
  blocks.push_back(Bullets{
      {"Uncertainties are standard uncertainties (k = 1) unless a band says otherwise. They hold "
       "scatter, load cell gain and zero, travel zero, the pressure gauge where it matters, and "
       "the "
       "model's own error, which is seen in the pattern of its residuals.",
       "Load cell gain, pressure gauge and travel zero cannot be found from a sweep, since the "
       "model "
       "would bend to hide them. Their stated uncertainty is carried through the fit and not "
       "reduced "
       "by it.",
       "What both forks share, such as one load cell, acts on their difference and not on each "
       "fork "
       "separately. A comparison as tested leaves the gauge out; a comparison at set pressures "
       "holds it.",
       "Bands of a difference are simultaneous: with 95 % confidence the whole curve lies in the "
       "band, not each point by itself. Where the band holds zero, no difference is resolved.",
       "Sag is where the slow spring carries the stated load along the fork; friction makes a band "
       "of it, within which the fork may come to rest."}});
  blocks.push_back(Paragraph{mounts_text(input)});
  for (const auto* fork : {&input.a, &input.b}) {
    const auto& context = fork->model.context;
    std::string text = fmt::format("{} was swept to {} and {}", fork->label,
                                   input.units.travel.text(context.swept_travel_m, 1),
                                   input.units.force.text(context.largest_force_N, 0));
    if (context.calibrated_force_N > 0.0) {
      text += "; its load cell is calibrated to " +
              input.units.force.text(context.calibrated_force_N, 0);
    }
    blocks.push_back(Paragraph{
        text + ". Beyond that every answer is an extrapolation, says so, and is less certain."});
  }
  blocks.push_back(Paragraph{
      "The curves of every figure and the rows of every table lie beside this page as CSV, and the "
      "whole report as JSON."});
  return section;
}

}  // namespace fitting
