// The uncertainty budget on a certificate.
#include <fmt/format.h>

#include <cmath>

#include "fitting/report/certificate_numbers.hpp"
#include "fitting/report/certificate_sections.hpp"
#include "fitting/report/numbers.hpp"

namespace fitting {

using calibration::Budget;
using calibration::BudgetLine;
using calibration::Calibration;

namespace {

constexpr double kStatedShare = 0.5;

std::string degrees_text(double degrees_of_freedom) {
  constexpr double kManyDegrees = 1e4;
  return degrees_of_freedom < kManyDegrees ? rounded(std::floor(degrees_of_freedom), 0) : "∞";
}

std::string standard_uncertainty_text(const BudgetLine& line, const CertificateWords& words) {
  if (line.unit == "1") return shown_small(100.0 * line.standard_uncertainty) + " %";
  return shown_small(words.scale * line.standard_uncertainty) + " " + words.unit;
}

std::vector<std::string> row_of(const BudgetLine& line, const CertificateWords& words) {
  std::string sensitivity = line.unit == "1"
                                ? shown_small(words.scale * line.sensitivity, 4) + " " + words.unit
                                : rounded(line.sensitivity, 0);
  const bool adds = line.sensitivity != 0.0;
  return {line.source,
          std::string(1, line.evaluation),
          line.distribution,
          standard_uncertainty_text(line, words),
          adds ? sensitivity : "–",
          adds ? shown_small(words.scale * line.contribution) : "–",
          degrees_text(line.degrees_of_freedom)};
}

}  // namespace

Budget stated_budget(const Calibration& calibration) {
  const double middle =
      calibration.range_low + kStatedShare * (calibration.range_high - calibration.range_low);
  const calibration::Reading* nearest = nullptr;
  for (const calibration::Reading& reading : calibration.readings) {
    if (nearest == nullptr ||
        std::abs(reading.reference - middle) < std::abs(nearest->reference - middle)) {
      nearest = &reading;
    }
  }
  return calibration::budget_at(calibration, nearest != nullptr ? nearest->reference : middle);
}

Section certificate_doubt(const Calibration& calibration) {
  const CertificateWords words = certificate_words(calibration.kind);
  const Budget budget = stated_budget(calibration);
  Section section{"uncertainty", "Uncertainty budget", {}};
  const double expanded = words.scale * budget.expanded_uncertainty;
  const int decimals = decimals_for(expanded);
  Table table{"budget",
              fmt::format("One reading at {} {}", rounded(words.scale * budget.value, decimals),
                          words.unit),
              {{"Source", ColumnKind::text},
               {"Type", ColumnKind::text},
               {"Distribution", ColumnKind::text},
               {"Standard uncertainty"},
               {"Sensitivity"},
               {"Contribution, " + words.unit},
               {"Degrees of freedom"}},
              {}};
  for (const BudgetLine& line : budget.lines) table.rows.push_back(row_of(line, words));
  table.rows.push_back({"Combined standard uncertainty", "", "", "", "",
                        shown_small(words.scale * budget.combined_standard_uncertainty),
                        degrees_text(budget.effective_degrees_of_freedom)});
  table.rows.push_back(
      {fmt::format("Expanded uncertainty U, k = {}, 95 %", rounded(budget.coverage_factor, 2)), "",
       "", "", "", rounded(expanded, decimals), ""});
  section.blocks.push_back(std::move(table));
  section.blocks.push_back(Paragraph{fmt::format(
      "After the GUM (JCGM 100:2008); effective degrees of freedom after Welch and Satterthwaite, "
      "k "
      "of Student's distribution. Sources marked – lie within the scatter already and are not "
      "counted twice. Outside {} to {} {} nothing was measured: there the standard uncertainty "
      "grows by {} % of what lies beyond.",
      rounded(words.scale * calibration.range_low, decimals),
      rounded(words.scale * calibration.range_high, decimals), words.unit,
      shown_small(100.0 * calibration.beyond_range_relative, 2))});
  return section;
}

}  // namespace fitting
