// The calibration behind the numbers.
#include <fmt/format.h>

#include <map>
#include <tuple>

#include "fitting/report/comparison_report.hpp"
#include "fitting/report/numbers.hpp"

namespace fitting {
namespace {

// What stands behind the force of one or more records.
struct ForceSource {
  std::string certificate;  // short id, empty: none
  std::string range;
  std::string valid_until;
  std::string gain;
  std::string zero;
  std::string rig;

  bool operator<(const ForceSource& other) const {
    const auto key = [](const ForceSource& each) {
      return std::tie(each.certificate, each.range, each.valid_until, each.gain, each.zero,
                      each.rig);
    };
    return key(*this) < key(other);
  }
};

ForceSource force_source(const protocol::Metadata& metadata, const UnitScale& force) {
  ForceSource source;
  source.gain = rounded(100.0 * metadata.doubt.gain_relative, 2) + " %";
  source.zero = force.number(metadata.doubt.zero_N, 2);
  source.rig = metadata.rig_id.empty() ? "not named" : metadata.rig_id;
  source.range = "–";
  source.valid_until = "–";
  if (metadata.force_calibration) {
    const auto& applied = *metadata.force_calibration;
    source.certificate = applied.id.substr(0, 12);
    source.range =
        force.number(applied.range_low, 0) + " to " + force.number(applied.range_high, 0);
    if (!applied.valid_until.empty()) source.valid_until = applied.valid_until;
  }
  return source;
}

}  // namespace

Section calibration_section(const ComparisonInput& input) {
  Section section{"calibration", "Calibration", {}};
  std::map<ForceSource, std::vector<std::string>> sources;
  bool assumed = false;
  for (const auto* fork : {&input.a, &input.b}) {
    for (const auto& measured : fork->records) {
      sources[force_source(measured.record.metadata, input.units.force)].push_back(measured.name);
      assumed = assumed || !measured.record.metadata.doubt.calibrated;
    }
  }
  Table table{"calibration",
              "Load cell behind the forces",
              {{"Certificate", ColumnKind::text},
               {input.units.force.heading("Calibrated range")},
               {"Valid until", ColumnKind::text},
               {"Gain uncertainty"},
               {input.units.force.heading("Zero uncertainty")},
               {"Rig", ColumnKind::text},
               {"Records", ColumnKind::text}},
              {}};
  for (const auto& [source, names] : sources) {
    table.rows.push_back({source.certificate.empty() ? "none: values assumed" : source.certificate,
                          source.range, source.valid_until, source.gain, source.zero, source.rig,
                          fmt::format("{}", fmt::join(names, ", "))});
  }
  section.blocks.push_back(std::move(table));
  if (assumed) {
    section.blocks.push_back(Note{
        NoteKind::caution,
        "At least one record has no calibration certificate. Its forces are taken as they came, "
        "with the uncertainties shown, which are assumptions. Differences between forks measured "
        "on one rig suffer less from this than the forces themselves."});
  }
  return section;
}

}  // namespace fitting
