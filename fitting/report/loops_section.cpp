// Measured and simulated loops over each other, and what is left between them.
#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <limits>

#include "fitting/curve/strokes.hpp"
#include "fitting/report/comparison_report.hpp"
#include "fitting/report/numbers.hpp"
#include "protocol/error.hpp"

namespace fitting {
namespace {

constexpr double kNaN = std::numeric_limits<double>::quiet_NaN();
constexpr double kResidualBin_m = 0.002;
constexpr std::size_t kBinRowsMin = 3;

// What was measured less what was simulated, gathered along travel; in the reader's units.
struct ResidualBins {
  std::vector<double> travel;
  std::vector<double> compression;
  std::vector<double> rebound;
  std::vector<double> low;  // one standard deviation of single readings about their mean
  std::vector<double> high;
};

struct Misfit {
  double rms_N = 0.0;
  double worst_N = 0.0;  // of the binned lines
  double worst_m = 0.0;
};

struct Sum {
  std::size_t count = 0;
  double sum = 0.0;
  double squares = 0.0;

  void add(double value) {
    ++count;
    sum += value;
    squares += value * value;
  }
  bool enough() const { return count >= kBinRowsMin; }
  double mean() const { return enough() ? sum / static_cast<double>(count) : kNaN; }
  double deviation() const {
    if (!enough()) return kNaN;
    const double n = static_cast<double>(count);
    return std::sqrt(std::max(0.0, (squares - sum * sum / n) / (n - 1.0)));
  }
};

// The measuring strokes; all of them where the record has no others.
std::vector<Stroke> drawn_strokes(const protocol::SweepRecord& record) {
  auto strokes = split_strokes(record);
  if (!strokes) return {};
  std::vector<Stroke> drawn;
  std::copy_if(strokes->begin(), strokes->end(), std::back_inserter(drawn),
               [](const Stroke& stroke) { return !stroke.conditioning; });
  return drawn.empty() ? std::move(*strokes) : drawn;
}

class LoopDrawing {
 public:
  LoopDrawing(const MeasuredRecord& measured, const ReaderUnits& units)
      : measured_(measured), units_(units), strokes_(drawn_strokes(measured.record)) {
    ENSURE(measured.simulated_N.size() == measured.record.size());
    gather();
  }

  const Misfit& misfit() const { return misfit_; }
  double largest_N() const { return largest_N_; }
  double largest_m() const { return largest_m_; }

  std::vector<Panel> panels() const {
    Panel loop;
    loop.y = units_.force.axis("Force");
    loop.y.include_zero = true;
    loop.layers = {measured_line_, simulated_line_};
    Panel residual;
    residual.y = units_.force.axis("Measured less simulated");
    residual.height_share = 0.42;
    residual.layers = {
        HorizontalMarker{"", 0.0},
        Band{"spread of single readings", Tone::neutral, bins_.travel, bins_.low, bins_.high},
        Line{"compression", Tone::difference, bins_.travel, bins_.compression},
        Line{"rebound", Tone::fourth, bins_.travel, bins_.rebound}};
    return {loop, residual};
  }

 private:
  void gather() {
    const auto& record = measured_.record;
    double low_m = std::numeric_limits<double>::infinity();
    double high_m = -low_m;
    for (double travel_m : record.travel_m) {
      low_m = std::min(low_m, travel_m);
      high_m = std::max(high_m, travel_m);
    }
    const auto bins =
        static_cast<std::size_t>(std::max(1.0, std::ceil((high_m - low_m) / kResidualBin_m)));
    std::vector<Sum> compression(bins);
    std::vector<Sum> rebound(bins);
    std::vector<Sum> both(bins);
    Sum all;
    for (const auto& stroke : strokes_) {
      for (std::size_t row = stroke.first_row; row < stroke.last_row; ++row) {
        add_row(row);
        const double residual_N = record.force_N[row] - measured_.simulated_N[row];
        if (!std::isfinite(residual_N)) continue;
        const auto bin = std::min(
            bins - 1, static_cast<std::size_t>((record.travel_m[row] - low_m) / kResidualBin_m));
        (stroke.direction > 0 ? compression : rebound)[bin].add(residual_N);
        both[bin].add(residual_N);
        all.add(residual_N);
      }
    }
    if (all.count > 0) misfit_.rms_N = std::sqrt(all.squares / static_cast<double>(all.count));
    for (std::size_t i = 0; i < bins; ++i) {
      const double centre_m = low_m + (static_cast<double>(i) + 0.5) * kResidualBin_m;
      bins_.travel.push_back(units_.travel.of(centre_m));
      bins_.compression.push_back(units_.force.of(compression[i].mean()));
      bins_.rebound.push_back(units_.force.of(rebound[i].mean()));
      bins_.low.push_back(units_.force.of(both[i].mean() - both[i].deviation()));
      bins_.high.push_back(units_.force.of(both[i].mean() + both[i].deviation()));
      for (double mean_N : {compression[i].mean(), rebound[i].mean()}) {
        if (std::abs(mean_N) > std::abs(misfit_.worst_N)) {
          misfit_.worst_N = mean_N;
          misfit_.worst_m = centre_m;
        }
      }
    }
  }

  void add_row(std::size_t row) {
    const double travel_m = measured_.record.travel_m[row];
    const double force_N = measured_.record.force_N[row];
    measured_line_.x.push_back(units_.travel.of(travel_m));
    measured_line_.y.push_back(units_.force.of(force_N));
    simulated_line_.x.push_back(units_.travel.of(travel_m));
    simulated_line_.y.push_back(units_.force.of(measured_.simulated_N[row]));
    if (force_N > largest_N_) {
      largest_N_ = force_N;
      largest_m_ = travel_m;
    }
  }

  const MeasuredRecord& measured_;
  const ReaderUnits& units_;
  std::vector<Stroke> strokes_;
  Line measured_line_{"measured", Tone::measured, {}, {}};
  Line simulated_line_{"simulated", Tone::simulated, {}, {}};
  ResidualBins bins_;
  Misfit misfit_;
  double largest_N_ = 0.0;
  double largest_m_ = 0.0;
};

std::string setting_text(const protocol::Metadata& metadata, const ReaderUnits& units) {
  std::string text = shown_setting(metadata.setting.pressure_gauge_Pa, metadata.setting.spacers);
  if (metadata.speed_m_s) text += ", " + units.slow_speed.text(*metadata.speed_m_s, 1);
  return text;
}

Figure loop_figure(const ReportFork& fork, std::size_t index, const LoopDrawing& drawing,
                   const ReaderUnits& units) {
  const auto& metadata = fork.records[index].record.metadata;
  const Misfit& misfit = drawing.misfit();
  Figure figure;
  figure.name = fmt::format("loop-{}-{}", fork.key, index + 1);
  figure.size = index == 0 ? FigureSize::full : FigureSize::half;
  figure.title = index == 0 ? fork.label + ": measured and simulated loop" : fork.label;
  figure.subtitle = setting_text(metadata, units);
  figure.x = units.travel.axis("Travel");
  figure.x.include_zero = true;
  figure.panels = drawing.panels();
  figure.alt = fmt::format(
      "Force against travel of {} at {}: the measured loop, which reaches {} at {}, with the "
      "simulated loop drawn over it. Below, measured less simulated: {} rms of single readings, at "
      "most {} in a stretch of {}, at {}.",
      fork.label, setting_text(metadata, units), units.force.text(drawing.largest_N(), 0),
      units.travel.text(drawing.largest_m(), 0), units.force.text(misfit.rms_N, 1),
      units.force.text(misfit.worst_N, 1), units.travel.text(kResidualBin_m, 0),
      units.travel.text(misfit.worst_m, 0));
  return figure;
}

void add_fork(const ReportFork& fork, const ReaderUnits& units, Section& section, Table& table) {
  for (std::size_t i = 0; i < fork.records.size(); ++i) {
    const auto& measured = fork.records[i];
    const LoopDrawing drawing(measured, units);
    const Misfit& misfit = drawing.misfit();
    if (i == 0) {
      section.blocks.push_back(Paragraph{fmt::format(
          "{} at {}: single readings scatter about the simulation by {} rms. Averaged over {}, "
          "it is furthest off at {}, by {}, {} % of the largest force.",
          fork.label, setting_text(measured.record.metadata, units),
          units.force.text(misfit.rms_N, 1), units.travel.text(kResidualBin_m, 0),
          units.travel.text(misfit.worst_m, 0), units.force.text(misfit.worst_N, 1),
          rounded(100.0 * std::abs(misfit.worst_N) / std::max(1.0, drawing.largest_N()), 1))});
    }
    section.blocks.push_back(loop_figure(fork, i, drawing, units));
    table.rows.push_back(
        {fork.label, measured.name, setting_text(measured.record.metadata, units),
         units.force.number(drawing.largest_N(), 0), units.force.number(misfit.rms_N, 1),
         units.force.number(misfit.worst_N, 1), units.travel.number(misfit.worst_m, 0)});
  }
}

}  // namespace

Section loops_section(const ComparisonInput& input) {
  Section section{"loops", "Measured and simulated", {}};
  section.blocks.push_back(Paragraph{
      "Each sweep as the rig recorded it, conditioning strokes left out, with the force that the "
      "fitted model gives for the same path through travel and time drawn over it. The lower panel "
      "magnifies what is left: averages over " +
      input.units.travel.text(kResidualBin_m, 0) +
      " for each direction, and one standard deviation "
      "of "
      "single readings to both sides. A straight line at zero would be a perfect model; a pattern "
      "along "
      "travel is something that the model does not know."});
  Table table{"loops",
              "How well the models follow the sweeps",
              {{"Fork", ColumnKind::text},
               {"Record", ColumnKind::text},
               {"Setting", ColumnKind::text},
               {input.units.force.heading("Largest force")},
               {input.units.force.heading("Residual rms")},
               {input.units.force.heading("Worst stretch")},
               {input.units.travel.heading("at")}},
              {}};
  add_fork(input.a, input.units, section, table);
  add_fork(input.b, input.units, section, table);
  section.blocks.push_back(std::move(table));
  return section;
}

}  // namespace fitting
