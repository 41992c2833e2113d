// How much force each further bit of travel takes: the rates of both forks.
#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "fitting/report/comparison_report.hpp"
#include "fitting/report/numbers.hpp"
#include "fitting/report/pair_sentences.hpp"

namespace fitting {
namespace {

// A rate over the travel in which the difference is judged; nearer the ends a slope has too few
// points on one side.
struct Shown {
  std::string label;
  std::vector<double> travel_m;
  Rate rate;
};

Shown shown_rate(const std::string& label, const Side& side, const Difference& judged) {
  Shown out{label, {}, {}};
  const Rate all = local_rate(curve_of(side));
  for (std::size_t i = 0; i < side.travel_m.size(); ++i) {
    if (side.travel_m[i] < judged.from_m() || side.travel_m[i] > judged.to_m()) continue;
    if (!std::isfinite(all.rate_N_m[i])) continue;
    out.travel_m.push_back(side.travel_m[i]);
    out.rate.rate_N_m.push_back(all.rate_N_m[i]);
    out.rate.standard_uncertainty_N_m.push_back(all.standard_uncertainty_N_m[i]);
  }
  return out;
}

std::string lowest_sentence(const Shown& fork, const ReaderUnits& units) {
  const auto& rates = fork.rate.rate_N_m;
  const auto lowest = std::min_element(rates.begin(), rates.end());
  const auto i = static_cast<std::size_t>(lowest - rates.begin());
  return fmt::format("{} is softest at {}, with {}, and takes {} at {}.", fork.label,
                     units.travel.text(fork.travel_m[i], 0),
                     units.rate.doubtful(*lowest, fork.rate.standard_uncertainty_N_m[i]),
                     units.rate.doubtful(rates.back(), fork.rate.standard_uncertainty_N_m.back()),
                     units.travel.text(fork.travel_m.back(), 0));
}

void add_curve(const Shown& fork, Tone tone, const ReaderUnits& units, Panel& panel) {
  Line line{fork.label, tone, units.travel.of(fork.travel_m), units.rate.of(fork.rate.rate_N_m)};
  Band band{"", tone, line.x, {}, {}};
  for (std::size_t i = 0; i < fork.travel_m.size(); ++i) {
    const double half_N_m = kPointwise95 * fork.rate.standard_uncertainty_N_m[i];
    band.lower.push_back(units.rate.of(fork.rate.rate_N_m[i] - half_N_m));
    band.upper.push_back(units.rate.of(fork.rate.rate_N_m[i] + half_N_m));
  }
  panel.layers.push_back(std::move(band));
  panel.layers.push_back(std::move(line));
}

}  // namespace

Section rate_section(const ComparisonInput& input) {
  Section section{"rate", "How stiff along the travel", {}};
  const ComparedPair& pair = input.pairs.front();
  const Shown a = shown_rate(input.a.label, pair.a, pair.difference);
  const Shown b = shown_rate(input.b.label, pair.b, pair.difference);
  if (a.travel_m.empty() || b.travel_m.empty()) return section;
  const std::string text =
      pair.heading + ": " + lowest_sentence(a, input.units) + " " + lowest_sentence(b, input.units);
  Figure figure;
  figure.name = "rate";
  figure.title = "The rate of both forks along the travel";
  figure.subtitle = "Slope of the " + pair.curves + "; bands hold 95 % at each travel";
  figure.x = input.units.travel.axis("Travel");
  figure.x.include_zero = true;
  Panel panel;
  panel.y = input.units.rate.axis("Rate");
  panel.y.include_zero = true;
  add_curve(a, Tone::first, input.units, panel);
  add_curve(b, Tone::second, input.units, panel);
  figure.panels = {panel};
  figure.alt = "Rate against travel of both forks, with bands. " + text;
  section.blocks.push_back(Paragraph{text});
  section.blocks.push_back(std::move(figure));
  return section;
}

}  // namespace fitting
