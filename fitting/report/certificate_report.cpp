#include "fitting/report/certificate_report.hpp"

#include <fmt/format.h>

#include <algorithm>

#include "calibration/standards/weights.hpp"
#include "fitting/report/certificate_numbers.hpp"
#include "fitting/report/certificate_sections.hpp"
#include "fitting/report/numbers.hpp"

namespace fitting {

using calibration::Calibration;
using calibration::DegreeTrial;
using calibration::Kind;
using calibration::Standard;

namespace {

std::string said(const std::string& text) {
  return text.empty() ? "not said" : text;
}

std::string object_of(const Calibration& calibration) {
  const std::string cell = said(calibration.particulars.cell_id);
  switch (calibration.kind) {
    case Kind::force:
      return "Load cell: " + cell;
    case Kind::travel:
      return "Screw: " + cell;
    case Kind::frame:
      break;
  }
  return "Frame: " + cell;
}

Section particulars_section(const Calibration& calibration) {
  const calibration::Particulars& particulars = calibration.particulars;
  Table table{"particulars",
              "What, by whom, when, where",
              {{"Item", ColumnKind::text},
               {"Entry", ColumnKind::text},
               {"Item", ColumnKind::text},
               {"Entry", ColumnKind::text}},
              {}};
  const std::string temperature =
      particulars.temperature_K
          ? rounded(*particulars.temperature_K - protocol::kZeroCelsius_K, 1) + " °C"
          : "not said";
  table.rows = {
      {"Calibrated", object_of(calibration), "On rig", said(particulars.rig_id)},
      {"Date", said(particulars.date), "By", said(particulars.operator_name)},
      {"Place", said(particulars.place), "Room temperature", temperature},
      {"Valid until", particulars.valid_until.empty() ? "no limit stated" : particulars.valid_until,
       "Supersedes",
       particulars.supersedes.empty() ? "none" : particulars.supersedes.substr(0, 12)},
  };
  return {"particulars", "Particulars", {std::move(table)}};
}

// As stated, else by the class of the weights.
std::string uncertainty_text(const Standard& standard) {
  if (standard.relative_standard_uncertainty) {
    return shown_small(100.0 * *standard.relative_standard_uncertainty) + " %";
  }
  if (standard.weight_class.empty()) return "not stated";
  const auto by_class = calibration::weight_relative_standard_uncertainty(standard.weight_class);
  return by_class ? shown_small(100.0 * *by_class) + " %, by its class" : "not stated";
}

Section standards_section(const Calibration& calibration) {
  Section section{"standards", "Standards", {}};
  if (calibration.particulars.standards.empty()) {
    section.blocks.push_back(
        Note{NoteKind::caution, "No standard is named: nothing traces these readings further."});
    return section;
  }
  Table table{"standards",
              "Standards and their own certificates",
              {{"Standard", ColumnKind::text},
               {"Certificate", ColumnKind::text},
               {"Class", ColumnKind::text},
               {"Valid until", ColumnKind::text},
               {"Relative standard uncertainty"}},
              {}};
  for (const Standard& standard : calibration.particulars.standards) {
    table.rows.push_back({said(standard.name), said(standard.certificate),
                          standard.weight_class.empty() ? "–" : "OIML " + standard.weight_class,
                          standard.valid_until.empty() ? "not said" : standard.valid_until,
                          uncertainty_text(standard)});
  }
  section.blocks.push_back(std::move(table));
  return section;
}

std::string conditions_sentence(const Calibration& calibration) {
  if (!has_weights(calibration.readings)) return "";
  const auto& conditions = calibration.conditions;
  const std::string gravity =
      conditions.gravity_m_s2 ? "a gravity of " + rounded(*conditions.gravity_m_s2, 5) + " m/s²"
                              : std::string("standard gravity, since the local one was not given");
  const std::string air =
      conditions.air_density_kg_m3
          ? "buoyancy in air of " + rounded(*conditions.air_density_kg_m3, 4) + " kg/m³"
          : std::string("no correction for buoyancy");
  return " Weights became forces with " + gravity + " and " + air + ".";
}

std::string method_text(const Calibration& calibration) {
  const CertificateWords words = certificate_words(calibration.kind);
  int series = 0;
  for (const auto& reading : calibration.readings) series = std::max(series, reading.series);
  const std::string against =
      calibration.kind == Kind::force
          ? (has_weights(calibration.readings) ? "dead weights" : "a reference force")
      : calibration.kind == Kind::travel
          ? "a length standard"
          : "the carriage's way, with a rigid block in the fork's place";
  return fmt::format(
      "{} readings in {} series were taken beside {}, in the order in which they stand in the "
      "certificate's file.{} A polynomial of degree {} was fitted by least squares, {} on {}.",
      calibration.readings.size(), series, against, conditions_sentence(calibration),
      calibration.degree(), words.reference, words.reading);
}

Table coefficients_table(const Calibration& calibration) {
  const double scale = certificate_words(calibration.kind).scale;
  Table table{"coefficients",
              shown_equation(calibration),
              {{"Coefficient", ColumnKind::text},
               {"Value"},
               {"Standard uncertainty"},
               {"Unit", ColumnKind::text}},
              {}};
  for (int power = calibration.through_origin ? 1 : 0; power <= calibration.degree(); ++power) {
    const double value = scale * calibration.coefficients[static_cast<size_t>(power)];
    const double u = scale * calibration.coefficient_standard_uncertainty(power);
    table.rows.push_back({fmt::format("c{}", power), shown_coefficient(value, u), shown_small(u),
                          coefficient_unit(calibration, power)});
  }
  return table;
}

std::string probability_text(double probability) {
  constexpr double kShownLeast = 1e-4;
  return probability < kShownLeast ? "below 0.0001" : shown_small(probability);
}

std::vector<std::string> trial_row(const Calibration& calibration, const DegreeTrial& trial) {
  const CertificateWords words = certificate_words(calibration.kind);
  std::vector<std::string> row = {
      fmt::format("{}{}", trial.degree, trial.degree == calibration.degree() ? ", chosen" : ""),
      shown_small(words.scale * trial.residual_standard_deviation)};
  if (trial.lack_of_fit) {
    const auto& lack = *trial.lack_of_fit;
    row.push_back(fmt::format("F({}, {}) = {}", lack.degrees_of_freedom,
                              lack.pure_error_degrees_of_freedom, shown_small(lack.F, 3)));
    row.push_back(probability_text(lack.probability));
  } else {
    row.insert(row.end(), {"no repeats to test by", "–"});
  }
  return row;
}

Section equation_section(const Calibration& calibration) {
  Section section{"equation", "Method and equation", {}};
  const CertificateWords words = certificate_words(calibration.kind);
  section.blocks.push_back(Paragraph{method_text(calibration)});
  section.blocks.push_back(coefficients_table(calibration));
  Table table{"degrees",
              "Degree of the curve, by its lack of fit",
              {{"Degree", ColumnKind::text},
               {"Residual standard deviation, " + words.unit},
               {"Lack of fit", ColumnKind::text},
               {"Probability"}},
              {}};
  if (calibration.degree_trials.empty()) {
    table.rows.push_back(trial_row(
        calibration, {calibration.degree(), calibration.quality.residual_standard_deviation,
                      calibration.quality.lack_of_fit}));
  }
  for (const DegreeTrial& trial : calibration.degree_trials) {
    table.rows.push_back(trial_row(calibration, trial));
  }
  section.blocks.push_back(std::move(table));
  return section;
}

Section closing_section(const Calibration& calibration) {
  Section section{"remarks", "Remarks and limits", {}};
  Bullets bullets;
  bullets.items = calibration.remarks;
  const auto& particulars = calibration.particulars;
  if (!particulars.supersedes.empty()) {
    bullets.items.push_back("This calibration takes the place of " + particulars.supersedes +
                            ", which stays as it was.");
  }
  bullets.items.push_back(
      "The results hold for the instrument as it was on that day, mounted as it was. No claim is "
      "made of accreditation, of a verified machine, or of conformity with a standard beyond the "
      "limits stated as met.");
  bullets.items.push_back(
      "The certificate is its JSON file; this page shows it. The number at the top is the SHA-256 "
      "of that file's content and changes with any digit in it. Compute with the coefficients as "
      "they "
      "stand in the file, in full.");
  section.blocks.push_back(std::move(bullets));
  return section;
}

std::string equation_finding(const Calibration& calibration) {
  const CertificateWords words = certificate_words(calibration.kind);
  const calibration::Budget budget = stated_budget(calibration);
  const double expanded = words.scale * budget.expanded_uncertainty;
  const int decimals = decimals_for(expanded);
  return fmt::format(
      "Calibrated from {} to {} {}. One reading at {} {} has an expanded uncertainty of {} {} (95 "
      "%, "
      "k = {}).",
      rounded(words.scale * calibration.range_low, decimals),
      rounded(words.scale * calibration.range_high, decimals), words.unit,
      rounded(words.scale * budget.value, decimals), words.unit, rounded(expanded, decimals),
      words.unit, rounded(budget.coverage_factor, 2));
}

std::string title_of(Kind kind) {
  switch (kind) {
    case Kind::force:
      return "Certificate of calibration: force";
    case Kind::travel:
      return "Certificate of calibration: travel";
    case Kind::frame:
      break;
  }
  return "Certificate of calibration: frame deflection";
}

}  // namespace

Report certificate_report(const Calibration& calibration, const std::string& program) {
  Report report;
  report.style = PageStyle::certificate;
  report.kicker = "Springwright calibration";
  report.title = title_of(calibration.kind);
  report.subtitle = calibration.id;
  report.summary = {{equation_finding(calibration), "uncertainty"},
                    {performance_finding(calibration), "performance"}};
  report.sections = {particulars_section(calibration),     standards_section(calibration),
                     equation_section(calibration),        certificate_results(calibration),
                     certificate_performance(calibration), certificate_doubt(calibration),
                     closing_section(calibration)};
  report.colophon =
      fmt::format("Certificate {}, shown by {}.", calibration.id.substr(0, 12), program);
  return report;
}

}  // namespace fitting
