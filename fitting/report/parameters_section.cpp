// What the fits found, with its doubt and with what could not be found.
#include <fmt/format.h>

#include <algorithm>
#include <cctype>

#include "fitting/report/comparison_report.hpp"
#include "fitting/report/numbers.hpp"

namespace fitting {
namespace {

// What the user calls the record of a per-sweep value.
std::string sweep_name(const ReportFork& fork, const std::string& record_id) {
  for (const auto& measured : fork.records) {
    if (measured.record.metadata.record_id == record_id) return measured.name;
  }
  return record_id;
}

std::string shown_name(const ReportFork& fork, const FittedParameter& parameter,
                       const UnitScale& scale) {
  std::string name = parameter.name;
  std::replace(name.begin(), name.end(), '_', ' ');
  if (!name.empty()) name[0] = static_cast<char>(std::toupper(static_cast<unsigned char>(name[0])));
  if (!scale.unit.empty()) name = scale.heading(name);
  if (!parameter.sweep.empty()) name += " (" + sweep_name(fork, parameter.sweep) + ")";
  return name;
}

std::string shown_status(const FittedParameter& parameter) {
  std::string text;
  switch (parameter.status) {
    case ParameterStatus::fitted:
      text = "fitted";
      break;
    case ParameterStatus::given:
      text = "given";
      break;
    case ParameterStatus::not_determined:
      text = "not determined";
      break;
    case ParameterStatus::at_bound:
      text = "at a bound";
      break;
  }
  return parameter.reason.empty() ? text : text + ": " + parameter.reason;
}

std::vector<std::string> parameter_row(const ReportFork& fork, const FittedParameter& parameter,
                                       const ReaderUnits& units) {
  const UnitScale scale = scale_from(units, parameter.unit);
  const std::string name = shown_name(fork, parameter, scale);
  if (parameter.status == ParameterStatus::not_determined) {
    return {name, "–", "–", "–", shown_status(parameter)};
  }
  const double total = parameter.standard_uncertainty;
  if (!(total > 0.0)) {
    return {name, with_uncertainty(scale.of(parameter.value), 0.0, "1"), "–", "–",
            shown_status(parameter)};
  }
  const auto [value, uncertainty] = scale.cells(parameter.value, total);
  const double statistical = parameter.statistical_uncertainty;
  return {name, value, uncertainty,
          statistical > 0.0 ? scale.cells(statistical, statistical).first : "–",
          shown_status(parameter)};
}

std::string law_text(GasLaw law) {
  switch (law) {
    case GasLaw::wall_coefficient:
      return "with heat passing through the walls at a constant coefficient, so that the thermal "
             "time shrinks with the chamber";
    case GasLaw::constant_time:
      return "with heat passing at a constant thermal time";
    case GasLaw::exponent:
      return "with an effective exponent, since no clock was recorded; friction cannot be told "
             "from heat then, and the half-loop is its upper bound";
  }
  return "";
}

void add_fork(const ReportFork& fork, const ReaderUnits& units, Section& section) {
  const FittedModel& model = fork.model;
  const std::size_t sweeps = model.context.record_ids.size();
  section.blocks.push_back(
      Paragraph{fmt::format("{}: fitted to {} sweep{} with {} samples, {}. The residual is {} rms; "
                            "{} of it follow a pattern "
                            "along travel and are the model's own error.",
                            fork.label, sweeps, sweeps == 1 ? "" : "s", model.samples,
                            law_text(model.law), units.force.text(model.rms_residual_N, 2),
                            units.force.text(model.structured_residual_N, 2))});
  Table table{"parameters-" + fork.key,
              fork.label + ": fitted parameters",
              {{"Parameter", ColumnKind::text},
               {"Value"},
               {"Standard uncertainty"},
               {"Statistical part"},
               {"Status", ColumnKind::text}},
              {}};
  for (const auto& parameter : model.parameters)
    table.rows.push_back(parameter_row(fork, parameter, units));
  section.blocks.push_back(std::move(table));
  for (const auto& warning : model.warnings) {
    const NoteKind kind = model.usable ? NoteKind::remark : NoteKind::caution;
    section.blocks.push_back(Note{kind, fork.label + ": " + warning});
  }
}

}  // namespace

Section parameters_section(const ComparisonInput& input) {
  Section section{"parameters", "What the springs are made of", {}};
  add_fork(input.a, input.units, section);
  add_fork(input.b, input.units, section);
  section.blocks.push_back(
      Note{NoteKind::remark,
           "The standard uncertainty is the whole one: scatter, load cell, pressure gauge, travel "
           "zero and the model's own error. The statistical part alone would promise far too much. "
           "What the sweeps do not determine has no number here."});
  return section;
}

}  // namespace fitting
