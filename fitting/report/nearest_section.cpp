// The setting of fork B that comes closest to fork A, and what it leaves.
#include <fmt/format.h>

#include "fitting/report/comparison_report.hpp"
#include "fitting/report/numbers.hpp"

namespace fitting {

Section nearest_section(const ComparisonInput& input) {
  Section section{"nearest", "The closest setting", {}};
  if (!input.nearest) return section;
  const NearestSetting& nearest = *input.nearest;
  const UnitScale& travel = input.units.travel;
  const UnitScale& force = input.units.force;
  section.blocks.push_back(Paragraph{fmt::format(
      "{} comes closest to {} at {} with {}: from {} to {} the slow springs then differ by {} rms, "
      "against {} as set above. The largest difference left is {}, at {} ({} less {}).",
      input.b.label, input.a.label, shown_gauge_pressure(nearest.pressure_gauge_Pa),
      shown_spacers(nearest.spacers), travel.number(nearest.from_m, 0),
      travel.text(nearest.to_m, 0), force.text(nearest.rms_left_N, 1),
      force.text(nearest.rms_as_set_N, 1), force.text(nearest.largest_left_N, 1),
      travel.text(nearest.largest_left_at_m, 0), input.a.label, input.b.label)});
  if (!nearest.cause.empty()) {
    section.blocks.push_back(Paragraph{fmt::format("There the {} does most for it, with {}.",
                                                   nearest.cause, force.text(nearest.cause_N, 1))});
  }
  if (!nearest.promised.empty()) {
    Table promised{"promised",
                   "What a sweep of each will show: midline of " + input.a.label +
                       " less that of " + input.b.label,
                   {{travel.heading("Travel"), ColumnKind::text},
                    {force.heading("Mean difference")},
                    {force.heading("Standard uncertainty")}},
                   {}};
    for (const Span& third : nearest.promised) {
      promised.rows.push_back(
          {travel.number(third.from_m, 0) + " to " + travel.number(third.to_m, 0),
           force.number(third.mean_difference_N, 1),
           force.number(third.standard_uncertainty_N, 1)});
    }
    section.blocks.push_back(std::move(promised));
  }
  if (nearest.at_pressure_limit) {
    section.blocks.push_back(
        Note{NoteKind::caution,
             "The limit that " + input.b.label + " states for its pressure stopped the search."});
  }
  section.blocks.push_back(
      Note{NoteKind::remark,
           "Pressures were tried in steps of 1 psi and spacers as whole ones, since nobody sets a "
           "fork finer. Check it with a sweep before relying on it."});
  return section;
}

}  // namespace fitting
