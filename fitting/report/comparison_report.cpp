#include "fitting/report/comparison_report.hpp"

#include <fmt/format.h>

#include <algorithm>

#include "fitting/report/numbers.hpp"
#include "fitting/report/pair_sentences.hpp"
#include "protocol/error.hpp"

namespace fitting {
namespace {

std::vector<std::string> cautions_of(const ComparisonInput& input) {
  std::vector<std::string> cautions;
  for (const auto* fork : {&input.a, &input.b}) {
    if (!fork->model.usable) {
      cautions.push_back("The fit of " + fork->label +
                         " is not usable; what follows from it only shows why.");
    }
    for (const auto& measured : fork->records) {
      if (measured.record.metadata.state != protocol::RecordState::complete) {
        cautions.push_back("The record " + measured.name + " of " + fork->label +
                           " was not completed.");
      }
    }
  }
  const ComparedPair& pair = input.pairs.front();
  const auto add_warnings = [&](const std::optional<Prediction>& answer, const ReportFork& fork) {
    if (!answer) return;
    for (const auto& warning : answer->warnings) cautions.push_back(fork.label + ": " + warning);
  };
  add_warnings(pair.answer_a, input.a);
  add_warnings(pair.answer_b, input.b);
  cautions.insert(cautions.end(), input.cautions.begin(), input.cautions.end());
  return cautions;
}

// What the leading span leaves unsaid.
std::string elsewhere(const ComparedPair& pair) {
  const auto firmer = std::count_if(pair.spans.begin(), pair.spans.end(), [](const Span& span) {
    return span.firmer != Firmer::neither;
  });
  if (firmer > 1) return fmt::format(" That is one of {} stretches with a difference.", firmer);
  return pair.spans.size() > 1 ? " Elsewhere no difference is resolved." : "";
}

std::string fit_sentence(const ComparisonInput& input) {
  const UnitScale& force = input.units.force;
  return fmt::format(
      "The fitted models follow the sweeps to {} rms ({}) and {} rms ({}), of which {} and {} are "
      "a "
      "pattern that the models do not know.",
      force.text(input.a.model.rms_residual_N, 1), input.a.label,
      force.text(input.b.model.rms_residual_N, 1), input.b.label,
      force.text(input.a.model.structured_residual_N, 1),
      force.text(input.b.model.structured_residual_N, 1));
}

}  // namespace

std::vector<Finding> comparison_summary(const ComparisonInput& input) {
  ENSURE(!input.pairs.empty());
  const ComparedPair& pair = input.pairs.front();
  const PairWords names = words_of(input);
  const UnitScale travel = travel_of(pair, names.units);
  std::vector<Finding> findings;
  const auto add = [&](const std::string& sentence, const std::string& section) {
    if (!sentence.empty()) findings.push_back({sentence, section});
  };
  add(sag_sentence(pair, names), pair.id);
  if (const Span* span = leading_span(pair)) {
    add(pair.heading + ", " + span_sentence(*span, names, travel) + elsewhere(pair), pair.id);
  } else {
    add(fmt::format("{}, no difference is resolved anywhere from {} to {}.", pair.heading,
                    travel.number(pair.difference.from_m(), 0),
                    travel.text(pair.difference.to_m(), 0)),
        pair.id);
  }
  add(reason_sentence(pair, names), "elements");
  add(crossing_sentence(pair, names), pair.id);
  add(fit_sentence(input), "loops");
  return findings;
}

Report make_comparison_report(const ComparisonInput& input) {
  Report report;
  report.title = input.title;
  report.subtitle = fmt::format("{} and {} on the bench: {} and {} sweeps", input.a.label,
                                input.b.label, input.a.records.size(), input.b.records.size());
  report.summary = comparison_summary(input);
  report.cautions = cautions_of(input);
  for (const auto& pair : input.pairs) report.sections.push_back(comparison_section(input, pair));
  report.sections.push_back(rate_section(input));
  report.sections.push_back(numbers_section(input));
  report.sections.push_back(contributions_section(input));
  report.sections.push_back(elements_section(input));
  report.sections.push_back(loop_split_section(input));
  report.sections.push_back(nearest_section(input));
  report.sections.push_back(ridden_section(input));
  report.sections.push_back(fans_section(input));
  report.sections.push_back(loops_section(input));
  report.sections.push_back(parameters_section(input));
  report.sections.push_back(settings_section(input));
  report.sections.push_back(calibration_section(input));
  report.sections.push_back(method_section(input));
  std::erase_if(report.sections, [](const Section& section) { return section.blocks.empty(); });
  report.colophon = fmt::format("Made by {} on {}.", input.program, input.made);
  return report;
}

}  // namespace fitting
