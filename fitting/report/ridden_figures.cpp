#include "fitting/report/ridden_figures.hpp"

#include <fmt/format.h>

#include <cmath>

#include "fitting/report/numbers.hpp"

namespace fitting {
namespace {

constexpr Tone kTones[] = {Tone::first, Tone::second};
// The last percent is a handful of landings that would squeeze all else against the axis.
constexpr double kLastShare = 0.99;
constexpr int kShares = 99;
constexpr double kSaidShare = 0.9;

std::vector<double> shares() {
  std::vector<double> out;
  for (int i = 1; i <= kShares; ++i) out.push_back(kLastShare * i / kShares);
  return out;
}

void add(std::string& text, const std::string& sentence) {
  text += (text.empty() ? "" : " ") + sentence;
}

}  // namespace

Figure time_beyond_figure(const std::vector<LabelledRide>& rides, const ReaderUnits& units) {
  Figure figure;
  figure.name = "ridden-travel";
  figure.title = "How long the fork is beyond each travel";
  figure.subtitle = "Share of the time that the wheel is deeper than the travel below";
  figure.x = units.travel.axis("Travel");
  Panel panel;
  panel.y = {"Time beyond", "%", 0.0, 100.0};
  for (std::size_t i = 0; i < rides.size(); ++i) {
    const TimeByTravel& time = rides[i].ride->time;
    Line line{rides[i].label, kTones[i % std::size(kTones)], {}, {}};
    for (std::size_t edge = 0; edge < time.edges(); ++edge) {
      line.x.push_back(units.travel.of(time.travel_m(edge)));
      line.y.push_back(100.0 * time.share_beyond(edge));
    }
    add(figure.alt, fmt::format("{}: half of the time beyond {}, a tenth beyond {}.",
                                rides[i].label, units.travel.text(time.travel_of_share(0.5), 0),
                                units.travel.text(time.travel_of_share(0.1), 0)));
    panel.layers.push_back(std::move(line));
  }
  figure.panels = {panel};
  return figure;
}

Figure ridden_speeds_figure(const std::vector<LabelledRide>& rides, const ReaderUnits& units) {
  Figure figure;
  figure.name = "ridden-speeds";
  figure.title = "How fast the fork goes in and comes out";
  figure.subtitle = "Share of the time moving that way in which it is slower than the speed below";
  figure.x = units.ride_speed.axis("Speed");
  figure.x.include_zero = true;
  Panel in;
  in.y = {"Going in", "%", 0.0, 100.0};
  Panel out;
  out.y = {"Coming out", "%", 0.0, 100.0};
  const std::vector<double> all = shares();
  for (std::size_t i = 0; i < rides.size(); ++i) {
    const std::vector<WeightedSpeed> speeds = speeds_of(rides[i].ride->trace);
    const SpeedQuantiles quantiles = speed_quantiles(speeds, all);
    const SpeedQuantiles said = speed_quantiles(speeds, {kSaidShare});
    const auto line = [&](const std::vector<double>& speed_m_s) {
      Line drawn{rides[i].label, kTones[i % std::size(kTones)], {}, {}};
      for (std::size_t k = 0; k < all.size(); ++k) {
        if (!std::isfinite(speed_m_s[k])) continue;
        drawn.x.push_back(units.ride_speed.of(speed_m_s[k]));
        drawn.y.push_back(100.0 * all[k]);
      }
      return drawn;
    };
    in.layers.push_back(line(quantiles.compression_m_s));
    out.layers.push_back(line(quantiles.extension_m_s));
    add(figure.alt,
        fmt::format("{}: nine tenths of going in slower than {}, of coming out slower "
                    "than {}.",
                    rides[i].label, units.ride_speed.text(said.compression_m_s.front(), 2),
                    units.ride_speed.text(said.extension_m_s.front(), 2)));
  }
  figure.panels = {in, out};
  return figure;
}

}  // namespace fitting
