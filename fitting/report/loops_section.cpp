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

// What was measured less what was simulated, gathered along travel.
struct ResidualBins {
  std::vector<double> travel_mm;
  std::vector<double> compression_N;
  std::vector<double> rebound_N;
  std::vector<double> low_N;  // one standard deviation of single readings about their mean
  std::vector<double> high_N;
};

struct Misfit {
  double rms_N = 0.0;
  double worst_N = 0.0;  // of the binned lines
  double worst_mm = 0.0;
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
  explicit LoopDrawing(const MeasuredRecord& measured)
      : measured_(measured), strokes_(drawn_strokes(measured.record)) {
    ENSURE(measured.simulated_N.size() == measured.record.size());
    gather();
  }

  const Misfit& misfit() const { return misfit_; }
  double largest_N() const { return largest_N_; }
  double largest_mm() const { return largest_mm_; }

  std::vector<Panel> panels() const {
    Panel loop;
    loop.y = {"Force", "N"};
    loop.y.include_zero = true;
    loop.layers = {measured_line_, simulated_line_};
    Panel residual;
    residual.y = {"Measured less simulated", "N"};
    residual.height_share = 0.42;
    residual.layers = {HorizontalMarker{"", 0.0},
                       Band{"spread of single readings", Tone::neutral, bins_.travel_mm,
                            bins_.low_N, bins_.high_N},
                       Line{"compression", Tone::difference, bins_.travel_mm, bins_.compression_N},
                       Line{"rebound", Tone::fourth, bins_.travel_mm, bins_.rebound_N}};
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
      const double centre_mm = 1e3 * (low_m + (static_cast<double>(i) + 0.5) * kResidualBin_m);
      bins_.travel_mm.push_back(centre_mm);
      bins_.compression_N.push_back(compression[i].mean());
      bins_.rebound_N.push_back(rebound[i].mean());
      bins_.low_N.push_back(both[i].mean() - both[i].deviation());
      bins_.high_N.push_back(both[i].mean() + both[i].deviation());
      for (double mean_N : {compression[i].mean(), rebound[i].mean()}) {
        if (std::abs(mean_N) > std::abs(misfit_.worst_N)) {
          misfit_.worst_N = mean_N;
          misfit_.worst_mm = centre_mm;
        }
      }
    }
  }

  void add_row(std::size_t row) {
    const double travel_mm = 1e3 * measured_.record.travel_m[row];
    const double force_N = measured_.record.force_N[row];
    measured_line_.x.push_back(travel_mm);
    measured_line_.y.push_back(force_N);
    simulated_line_.x.push_back(travel_mm);
    simulated_line_.y.push_back(measured_.simulated_N[row]);
    if (force_N > largest_N_) {
      largest_N_ = force_N;
      largest_mm_ = travel_mm;
    }
  }

  const MeasuredRecord& measured_;
  std::vector<Stroke> strokes_;
  Line measured_line_{"measured", Tone::measured, {}, {}};
  Line simulated_line_{"simulated", Tone::simulated, {}, {}};
  ResidualBins bins_;
  Misfit misfit_;
  double largest_N_ = 0.0;
  double largest_mm_ = 0.0;
};

std::string setting_text(const protocol::Metadata& metadata) {
  std::string text = shown_setting(metadata.setting.pressure_gauge_Pa, metadata.setting.spacers);
  if (metadata.speed_m_s) text += ", " + rounded(1e3 * *metadata.speed_m_s, 1) + " mm/s";
  return text;
}

Figure loop_figure(const ReportFork& fork, std::size_t index, const LoopDrawing& drawing) {
  const auto& metadata = fork.records[index].record.metadata;
  const Misfit& misfit = drawing.misfit();
  Figure figure;
  figure.name = fmt::format("loop-{}-{}", fork.key, index + 1);
  figure.size = index == 0 ? FigureSize::full : FigureSize::half;
  figure.title = index == 0 ? fork.label + ": measured and simulated loop" : fork.label;
  figure.subtitle = setting_text(metadata);
  figure.x = {"Travel", "mm"};
  figure.x.include_zero = true;
  figure.panels = drawing.panels();
  figure.alt = fmt::format(
      "Force against travel of {} at {}: the measured loop, which reaches {} N at {} mm, with the "
      "simulated loop drawn over it. Below, measured less simulated: {} N rms of single readings, "
      "at most {} N in a 2 mm stretch, at {} mm.",
      fork.label, setting_text(metadata), rounded(drawing.largest_N(), 0),
      rounded(drawing.largest_mm(), 0), rounded(misfit.rms_N, 1), rounded(misfit.worst_N, 1),
      rounded(misfit.worst_mm, 0));
  return figure;
}

void add_fork(const ReportFork& fork, Section& section, Table& table) {
  for (std::size_t i = 0; i < fork.records.size(); ++i) {
    const auto& measured = fork.records[i];
    const LoopDrawing drawing(measured);
    const Misfit& misfit = drawing.misfit();
    if (i == 0) {
      section.blocks.push_back(Paragraph{fmt::format(
          "{} at {}: single readings scatter about the simulation by {} N rms. Averaged over 2 mm, "
          "it is furthest off at {} mm, by {} N, {} % of the largest force.",
          fork.label, setting_text(measured.record.metadata), rounded(misfit.rms_N, 1),
          rounded(misfit.worst_mm, 0), rounded(misfit.worst_N, 1),
          rounded(100.0 * std::abs(misfit.worst_N) / std::max(1.0, drawing.largest_N()), 1))});
    }
    section.blocks.push_back(loop_figure(fork, i, drawing));
    table.rows.push_back({fork.label, measured.name, setting_text(measured.record.metadata),
                          rounded(drawing.largest_N(), 0), rounded(misfit.rms_N, 1),
                          rounded(misfit.worst_N, 1), rounded(misfit.worst_mm, 0)});
  }
}

}  // namespace

Section loops_section(const ComparisonInput& input) {
  Section section{"loops", "Measured and simulated", {}};
  section.blocks.push_back(Paragraph{
      "Each sweep as the rig recorded it, conditioning strokes left out, with the force that the "
      "fitted model gives for the same path through travel and time drawn over it. The lower panel "
      "magnifies what is left: averages over 2 mm for each direction, and one standard deviation "
      "of "
      "single readings to both sides. A straight line at zero would be a perfect model; a pattern "
      "along "
      "travel is something that the model does not know."});
  Table table{"loops",
              "How well the models follow the sweeps",
              {{"Fork", ColumnKind::text},
               {"Record", ColumnKind::text},
               {"Setting", ColumnKind::text},
               {"Largest force, N"},
               {"Residual rms, N"},
               {"Worst 2 mm, N"},
               {"at, mm"}},
              {}};
  add_fork(input.a, section, table);
  add_fork(input.b, section, table);
  section.blocks.push_back(std::move(table));
  return section;
}

}  // namespace fitting
