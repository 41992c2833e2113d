// The results on a certificate: load by load, and as figures.
#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <map>
#include <optional>
#include <vector>

#include "calibration/performance/budget.hpp"
#include "calibration/repeats.hpp"
#include "fitting/report/certificate_numbers.hpp"
#include "fitting/report/certificate_sections.hpp"
#include "fitting/report/numbers.hpp"

namespace fitting {

using calibration::Calibration;
using calibration::Direction;
using calibration::Reading;

namespace {

class Mean {
 public:
  void add(double value) {
    sum_ += value;
    ++count_;
  }
  bool any() const { return count_ > 0; }
  double value() const { return count_ > 0 ? sum_ / count_ : 0.0; }

 private:
  double sum_ = 0.0;
  int count_ = 0;
};

// All readings of one load.
struct LoadResult {
  Mean reference;
  Mean reading;
  std::array<Mean, 2> readings;    // up, down
  std::array<Mean, 2> deviations;  // curve less reference
  double expanded_uncertainty = 0.0;
};

size_t way_of(const Reading& reading) {
  return reading.direction == Direction::descending ? 1 : 0;
}

double deviation_of(const Calibration& calibration, const Reading& reading) {
  return calibration.value(reading.reading) - reading.reference;
}

// A frame is pressed to the same forces, which are its readings; the others come back to the same
// references.
calibration::Repeats places_of(const Calibration& calibration) {
  if (calibration.kind != calibration::Kind::frame) {
    return calibration::find_repeats(calibration.readings);
  }
  std::vector<Reading> by_force = calibration.readings;
  for (Reading& reading : by_force) reading.reference = reading.reading;
  return calibration::find_repeats(by_force);
}

std::vector<LoadResult> results_of(const Calibration& calibration) {
  const calibration::Repeats repeats = places_of(calibration);
  std::vector<LoadResult> results(static_cast<size_t>(repeats.load_count));
  for (size_t i = 0; i < calibration.readings.size(); ++i) {
    const Reading& reading = calibration.readings[i];
    LoadResult& result = results[static_cast<size_t>(repeats.loads[i])];
    result.reference.add(reading.reference);
    result.reading.add(reading.reading);
    result.readings[way_of(reading)].add(reading.reading);
    result.deviations[way_of(reading)].add(deviation_of(calibration, reading));
  }
  for (LoadResult& result : results) {
    result.expanded_uncertainty =
        calibration::budget_of_reading(calibration, result.reading.value()).expanded_uncertainty;
  }
  return results;
}

std::string shown_mean(const Mean& mean, double scale, int decimals) {
  return mean.any() ? rounded(scale * mean.value(), decimals) : "–";
}

Table results_table(const Calibration& calibration, const std::vector<LoadResult>& results) {
  const CertificateWords words = certificate_words(calibration.kind);
  const int reading_decimals = calibration.kind == calibration::Kind::frame ? 2 : 1;
  const bool comes_down = std::any_of(results.begin(), results.end(), [](const LoadResult& each) {
    return each.readings[1].any();
  });
  Table table{
      "results", "Means over the series; expanded uncertainty of one reading, 95 %", {}, {}};
  table.columns = {{"Reference, " + words.unit}, {"Up, " + words.reading_unit}};
  if (comes_down) table.columns.push_back({"Down, " + words.reading_unit});
  table.columns.push_back({"Curve less reference, up, " + words.unit});
  if (comes_down) table.columns.push_back({"Curve less reference, down, " + words.unit});
  table.columns.push_back({"U, " + words.unit});
  for (const LoadResult& result : results) {
    const int decimals = decimals_for(words.scale * result.expanded_uncertainty);
    // A standard in much doubt must not hide how well the curve follows it.
    const int fine = std::max(decimals, residual_decimals(calibration));
    std::vector<std::string> row = {rounded(words.scale * result.reference.value(), fine),
                                    shown_mean(result.readings[0], 1.0, reading_decimals)};
    if (comes_down) row.push_back(shown_mean(result.readings[1], 1.0, reading_decimals));
    row.push_back(shown_mean(result.deviations[0], words.scale, fine));
    if (comes_down) row.push_back(shown_mean(result.deviations[1], words.scale, fine));
    row.push_back(rounded(words.scale * result.expanded_uncertainty, decimals));
    table.rows.push_back(std::move(row));
  }
  return table;
}

// Nothing where it is so wide that the residuals could not be told from zero beside it.
std::optional<Band> uncertainty_band(const Calibration& calibration,
                                     const std::vector<LoadResult>& results) {
  constexpr double kWidest = 4.0;  // times the largest residual
  const double scale = certificate_words(calibration.kind).scale;
  Band band{"", Tone::neutral, {}, {}, {}};
  for (const LoadResult& result : results) {
    if (result.expanded_uncertainty > kWidest * std::abs(calibration.quality.largest_residual)) {
      return std::nullopt;
    }
    band.x.push_back(scale * result.reference.value());
    band.lower.push_back(-scale * result.expanded_uncertainty);
    band.upper.push_back(scale * result.expanded_uncertainty);
  }
  return band;
}

// Marks tell up from down, dashes one series from the next.
Figure residual_figure(const Calibration& calibration, const std::vector<LoadResult>& results) {
  const CertificateWords words = certificate_words(calibration.kind);
  constexpr std::array kSeriesTones = {Tone::neutral, Tone::third, Tone::fourth, Tone::fifth};
  Figure figure;
  figure.name = "residuals";
  figure.size = FigureSize::half;
  figure.title = "Curve less reference";
  figure.subtitle = "Joined within a series";
  figure.x = {"Reference", words.unit};
  Panel panel;
  panel.y = {"Difference", words.unit};
  if (const auto band = uncertainty_band(calibration, results)) {
    panel.layers.emplace_back(*band);
    figure.subtitle += "; shaded: U of one reading, 95 %";
  }
  std::map<int, Line> series;
  Points up{"going up", Tone::first, {}, {}};
  Points down{"coming down", Tone::second, {}, {}};
  for (const Reading& reading : calibration.readings) {
    const double x = words.scale * reading.reference;
    const double y = words.scale * deviation_of(calibration, reading);
    Line& line = series[reading.series];
    line.x.push_back(x);
    line.y.push_back(y);
    Points& marks = way_of(reading) == 0 ? up : down;
    marks.x.push_back(x);
    marks.y.push_back(y);
  }
  panel.layers.emplace_back(HorizontalMarker{"", 0.0});
  size_t tone = 0;
  for (auto& [number, line] : series) {
    line.tone = kSeriesTones[tone++ % kSeriesTones.size()];
    if (series.size() > 1) line.label = fmt::format("series {}", number);
    panel.layers.emplace_back(std::move(line));
  }
  for (Points* marks : {&up, &down}) {
    if (!marks->x.empty()) panel.layers.emplace_back(std::move(*marks));
  }
  figure.panels = {panel};
  const int decimals = residual_decimals(calibration);
  figure.alt = fmt::format(
      "Curve less reference for each reading, against the reference. Largest {} {}, standard "
      "deviation {} {}.",
      // The quality states reference less curve.
      rounded(words.scale * std::abs(calibration.quality.largest_residual), decimals), words.unit,
      rounded(words.scale * calibration.quality.residual_standard_deviation, decimals), words.unit);
  return figure;
}

// Down less up at each load, for every series that went both ways.
std::optional<Figure> hysteresis_figure(const Calibration& calibration) {
  const CertificateWords words = certificate_words(calibration.kind);
  const calibration::Repeats repeats = places_of(calibration);
  struct Pair {
    Mean reference;
    std::array<Mean, 2> values;
  };
  std::map<int, std::map<int, Pair>> by_series;
  for (size_t i = 0; i < calibration.readings.size(); ++i) {
    const Reading& reading = calibration.readings[i];
    Pair& pair = by_series[reading.series][repeats.loads[i]];
    pair.reference.add(reading.reference);
    // Of the deviation and not of the value: a dial never stands at one place twice.
    pair.values[way_of(reading)].add(deviation_of(calibration, reading));
  }
  constexpr std::array kTones = {Tone::first, Tone::second, Tone::third, Tone::fourth, Tone::fifth};
  Figure figure;
  figure.name = "hysteresis";
  figure.size = FigureSize::half;
  figure.title = "Coming down less going up";
  figure.subtitle = "At one reference, in each series";
  figure.x = {"Reference", words.unit};
  Panel panel;
  panel.y = {"Difference", words.unit};
  panel.layers = {HorizontalMarker{"", 0.0}};
  size_t drawn = 0;
  double largest = 0.0;
  for (const auto& [number, loads] : by_series) {
    const Tone tone = kTones[drawn % kTones.size()];
    Line line{fmt::format("series {}", number), tone, {}, {}};
    for (const auto& [load, pair] : loads) {
      if (!pair.values[0].any() || !pair.values[1].any()) continue;
      const double down_less_up = pair.values[1].value() - pair.values[0].value();
      line.x.push_back(words.scale * pair.reference.value());
      line.y.push_back(words.scale * down_less_up);
      if (std::abs(line.y.back()) > std::abs(largest)) largest = line.y.back();
    }
    if (line.x.empty()) continue;
    ++drawn;
    panel.layers.emplace_back(Points{"", tone, line.x, line.y});
    panel.layers.emplace_back(std::move(line));
  }
  if (drawn == 0) return std::nullopt;
  figure.panels = {panel};
  figure.alt =
      fmt::format("Coming down less going up at each reference, series by series. Largest {} {}.",
                  rounded(largest, residual_decimals(calibration)), words.unit);
  return figure;
}

}  // namespace

Section certificate_results(const Calibration& calibration) {
  Section section{"results", "Results", {}};
  const std::vector<LoadResult> results = results_of(calibration);
  section.blocks.push_back(results_table(calibration, results));
  section.blocks.push_back(residual_figure(calibration, results));
  if (auto figure = hysteresis_figure(calibration)) section.blocks.push_back(*std::move(figure));
  return section;
}

}  // namespace fitting
