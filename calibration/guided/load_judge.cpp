#include "calibration/guided/load_judge.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace calibration {
namespace {

constexpr double kRelativeTolerance = 0.02;
constexpr double kStepTolerance = 0.4;
constexpr double kErrorsTolerance = 5.0;
// Less than this part of the expected change is no change.
constexpr double kNoChangePart = 0.2;

struct LoadLine {
  double slope = 0.0;  // reading per load
  double offset = 0.0;
  double load(double reading) const { return (reading - offset) / slope; }
};

// Empty until two different loads were taken.
std::optional<LoadLine> line_through(const std::vector<LoadReading>& taken) {
  double mean_load = 0.0, mean_reading = 0.0;
  for (const LoadReading& each : taken) {
    mean_load += each.load / static_cast<double>(taken.size());
    mean_reading += each.reading / static_cast<double>(taken.size());
  }
  double loads = 0.0, both = 0.0;
  for (const LoadReading& each : taken) {
    loads += (each.load - mean_load) * (each.load - mean_load);
    both += (each.load - mean_load) * (each.reading - mean_reading);
  }
  if (!(loads > 0.0) || both == 0.0) return std::nullopt;
  const double slope = both / loads;
  return LoadLine{slope, mean_reading - slope * mean_load};
}

// To half a unit where that is as good: weights come in such numbers.
double plain(double load, double tolerance) {
  const double round = std::round(load * 2.0) / 2.0;
  if (std::abs(round - load) <= tolerance) return round;
  return std::round(load * 1e3) / 1e3;
}

int different_loads(const std::vector<LoadReading>& taken) {
  std::vector<double> loads;
  for (const LoadReading& each : taken) {
    if (std::find(loads.begin(), loads.end(), each.load) == loads.end()) loads.push_back(each.load);
  }
  return static_cast<int>(loads.size());
}

LoadVerdict refuse_no_change(const LoadQuestion& question, bool more) {
  const std::string load = load_text(question.load, question.unit);
  LoadVerdict out;
  out.why = Refusal::no_change;
  out.text = question.is_typed
                 ? fmt::format(
                       "Nothing has changed since the last reading, and {} was typed; has "
                       "the load been changed?",
                       load)
             : more ? fmt::format(
                          "Nothing has changed since the last load: the weight does not "
                          "seem to be on. {} is asked for.",
                          load)
                    : fmt::format(
                          "Nothing has changed since the last load: the weight does not "
                          "seem to be off. {} is asked for.",
                          load);
  return out;
}

LoadVerdict refuse_other(const LoadQuestion& question, double implied, double tolerance) {
  LoadVerdict out;
  out.why = Refusal::other_load;
  out.looks_like = plain(implied, tolerance);
  const std::string seen = load_text(*out.looks_like, question.unit);
  const std::string said = load_text(question.load, question.unit);
  out.text = question.is_typed
                 ? fmt::format(
                       "By the readings so far this is {}, and {} was typed. Read the "
                       "standard again.",
                       seen, said)
                 : fmt::format("This reads like {} where {} is asked for. Put on {} in all.", seen,
                               said, said);
  // With one load behind the line, that one may be the wrong one.
  if (different_loads(question.taken) == 2) {
    out.text += " If an earlier load was the wrong one, undo (u).";
  }
  return out;
}

// Before there is a line: any change is one, but falling under load deserves a word.
LoadVerdict judge_first_load(const LoadQuestion& question, const LoadReading& before) {
  const double change = question.reading - before.reading;
  const bool more = question.load > before.load;
  // Ten standard errors: a weight that is hardly seen is no use as a first step.
  if (std::abs(change) <= 2.0 * kErrorsTolerance * question.standard_error) {
    return refuse_no_change(question, more);
  }
  if ((change > 0.0) == more || question.sign_is_meant) return {};
  LoadVerdict out;
  out.why = Refusal::sign_reversed;
  out.looks_like = question.load;
  out.text = fmt::format(
      "The reading fell by {:.0f} under {}. Does the load act the right way "
      "round? A cell that is wired the other way round does no harm.",
      std::abs(change), load_text(question.load, question.unit));
  return out;
}

}  // namespace

LoadVerdict judge_load(const LoadQuestion& question) {
  if (question.taken.empty()) return {};
  const LoadReading& before = question.taken.back();
  const std::optional<LoadLine> line = line_through(question.taken);
  if (!line) {
    if (question.load == before.load) return {};
    return judge_first_load(question, before);
  }
  double largest = std::abs(question.load);
  for (const LoadReading& each : question.taken) largest = std::max(largest, std::abs(each.load));
  const double tolerance =
      std::min(kRelativeTolerance * largest, kStepTolerance * question.smallest_step) +
      kErrorsTolerance * std::abs(question.standard_error / line->slope);
  const double implied = line->load(question.reading);
  if (std::abs(implied - question.load) <= tolerance) return {};
  const double expected = question.load - before.load;
  const double seen = (question.reading - before.reading) / line->slope;
  if (expected != 0.0 && std::abs(seen) <= kNoChangePart * std::abs(expected)) {
    return refuse_no_change(question, expected > 0.0);
  }
  // The mirror image of what was expected is a matter of wires, not of weights.
  if (expected != 0.0 && std::abs(seen + expected) <= tolerance) {
    LoadVerdict out;
    out.why = Refusal::sign_reversed;
    out.text = fmt::format(
        "The reading went the other way: by {} where {} was expected. Was the "
        "load taken off, or are the cell's wires changed?",
        load_text(plain(seen, tolerance), question.unit), load_text(expected, question.unit));
    return out;
  }
  return refuse_other(question, implied, tolerance);
}

}  // namespace calibration
