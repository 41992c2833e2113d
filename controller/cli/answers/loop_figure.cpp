#include "controller/cli/answers/loop_figure.hpp"

#include <fmt/format.h>

#include <array>

#include "protocol/units.hpp"

namespace controller::cli {
namespace {

using fitting::CurveAnswer;
using fitting::Figure;
using fitting::Line;
using fitting::Tone;

constexpr std::array kTones = {Tone::first, Tone::second, Tone::third, Tone::fourth, Tone::fifth};

std::string label_of(const CurveAnswer& answer) {
  const protocol::Setting& setting = answer.metadata.setting;
  return fmt::format("{}, {:.0f} psi, {} spacer{}", answer.metadata.fork.name,
                     protocol::in_unit(setting.pressure_gauge_Pa, "psi"), setting.spacers,
                     setting.spacers == 1 ? "" : "s");
}

// Compression forward and rebound back: one path, so that the loop closes as it was driven.
Line loop_line(const CurveAnswer& answer, Tone tone) {
  const fitting::Loop& loop = answer.loop;
  Line line{label_of(answer), tone, {}, {}};
  const auto add = [&](const fitting::Branch& branch, std::size_t i) {
    if (!branch.covers(i)) return;
    line.x.push_back(loop.travel_m[i] * 1e3);
    line.y.push_back(branch.force_N[i]);
  };
  for (std::size_t i = 0; i < loop.travel_m.size(); ++i) add(loop.compression, i);
  for (std::size_t i = loop.travel_m.size(); i-- > 0;) add(loop.rebound, i);
  return line;
}

Line midline(const CurveAnswer& answer) {
  Line line{"", Tone::neutral, {}, {}};
  for (std::size_t i = 0; i < answer.midline.size(); ++i) {
    line.x.push_back(answer.midline.travel_m[i] * 1e3);
    line.y.push_back(answer.midline.force_N(static_cast<Eigen::Index>(i)));
  }
  return line;
}

std::string alt_of(const std::vector<CurveAnswer>& answers) {
  std::string text = "Force against travel.";
  for (const CurveAnswer& answer : answers) {
    const fitting::Quantity* most =
        fitting::find_quantity(answer.quantities, "force_at_full_travel_N");
    text +=
        fmt::format(" {}: up to {:.0f} mm", label_of(answer), answer.midline.travel_m.back() * 1e3);
    if (most != nullptr && most->value) text += fmt::format(", {:.0f} N there", *most->value);
    text += ".";
  }
  return text;
}

}  // namespace

Figure loop_figure(const std::vector<CurveAnswer>& answers) {
  Figure figure;
  figure.name = "loop";
  figure.title = answers.size() == 1 ? "Force against travel" : "Forces against travel";
  figure.subtitle = "Steady strokes, averaged; the thin line between them is their midline";
  figure.alt = alt_of(answers);
  figure.x = {"Travel", "mm"};
  figure.x.include_zero = true;
  fitting::Panel panel;
  panel.y = {"Force", "N"};
  panel.y.include_zero = true;
  for (std::size_t k = 0; k < answers.size(); ++k) {
    panel.layers.push_back(loop_line(answers[k], kTones[k % kTones.size()]));
    if (!answers[k].loop.single_stroke) panel.layers.push_back(midline(answers[k]));
  }
  figure.panels = {panel};
  return figure;
}

}  // namespace controller::cli
