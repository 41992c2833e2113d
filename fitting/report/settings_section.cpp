// The forks as set up for the test.
#include <fmt/format.h>

#include "fitting/report/comparison_report.hpp"
#include "fitting/report/numbers.hpp"
#include "protocol/units.hpp"

namespace fitting {
namespace {

using protocol::in_unit;

std::string vent_text(const protocol::Vent& vent, const ReaderUnits& units) {
  return fmt::format("{}, {}, {}", units.travel.text(vent.travel_m, 0),
                     units.ambient.text(vent.pressure_Pa, 0),
                     units.temperature.text(vent.temperature_K, 1));
}

std::string state_text(const protocol::Metadata& metadata) {
  switch (metadata.state) {
    case protocol::RecordState::complete:
      return "complete";
    case protocol::RecordState::running:
      return "not closed";
    case protocol::RecordState::interrupted:
      return metadata.state_reason.empty() ? "interrupted"
                                           : "interrupted: " + metadata.state_reason;
  }
  return "";
}

void add_rows(const ReportFork& fork, const ReaderUnits& units, Table& settings,
              Table& circumstances) {
  for (const auto& measured : fork.records) {
    const auto& metadata = measured.record.metadata;
    const auto& setting = metadata.setting;
    const bool air = protocol::has_air_spring(metadata.fork.kind);
    const auto psi = [](double pressure_Pa) { return rounded(in_unit(pressure_Pa, "psi"), 1); };
    settings.rows.push_back(
        {fork.label, measured.name, air ? psi(setting.pressure_gauge_Pa) : "–",
         metadata.pressure_after_gauge_Pa ? psi(*metadata.pressure_after_gauge_Pa) : "–",
         air ? fmt::format("{}", setting.spacers) : "–",
         units.temperature.number(setting.temperature_K, 1),
         metadata.speed_m_s ? units.slow_speed.number(*metadata.speed_m_s, 1) : "–",
         fmt::format("{} + {}", metadata.conditioning_cycles, metadata.measuring_cycles)});
    circumstances.rows.push_back(
        {fork.label, measured.name, units.ambient.number(setting.ambient_pressure_Pa, 0),
         vent_text(setting.vent, units),
         setting.damper_clicks.empty() ? "not noted" : setting.damper_clicks,
         state_text(metadata)});
  }
}

void add_remarks(const ReportFork& fork, Section& section) {
  for (const auto& measured : fork.records) {
    for (const auto& remark : measured.record.metadata.remarks) {
      section.blocks.push_back(
          Note{NoteKind::remark, fork.label + ", " + measured.name + ": " + remark});
    }
  }
}

// As weighed, as paid, as remarked, of forks whose files say so.
void add_sheet(const ComparisonInput& input, Section& section) {
  Table sheet{"sheet",
              "The forks themselves",
              {{"Fork", ColumnKind::text},
               {input.units.travel.heading("Travel")},
               {input.units.mass.heading("Mass as weighed")},
               {"Price", ColumnKind::text},
               {"Remarks", ColumnKind::text}},
              {}};
  bool any = false;
  for (const ReportFork* fork : {&input.a, &input.b}) {
    const protocol::TestSheet& said = fork->model.fork.sheet;
    any = any || said.mass_kg || !said.price.empty() || !said.remarks.empty();
    sheet.rows.push_back({fork->label, input.units.travel.number(fork->model.fork.travel_m, 0),
                          said.mass_kg ? input.units.mass.number(*said.mass_kg, 0) : "–",
                          said.price.empty() ? "–" : said.price,
                          said.remarks.empty() ? "–" : said.remarks});
  }
  if (any) section.blocks.push_back(std::move(sheet));
}

}  // namespace

Section settings_section(const ComparisonInput& input) {
  Section section{"settings", "The settings as tested", {}};
  Table settings{"settings",
                 "Settings; pressures are gauge readings of the positive chamber at full extension",
                 {{"Fork", ColumnKind::text},
                  {"Record", ColumnKind::text},
                  {"Pressure, psi"},
                  {"After, psi"},
                  {"Spacers"},
                  {input.units.temperature.heading("Temp.")},
                  {input.units.slow_speed.heading("Speed")},
                  {"Cycles"}},
                 {}};
  Table circumstances{"circumstances",
                      "Circumstances; lower legs last opened at travel, air pressure, temperature",
                      {{"Fork", ColumnKind::text},
                       {"Record", ColumnKind::text},
                       {input.units.ambient.heading("Ambient")},
                       {"Lower legs opened at", ColumnKind::text},
                       {"Damper", ColumnKind::text},
                       {"Record is", ColumnKind::text}},
                      {}};
  add_sheet(input, section);
  add_rows(input.a, input.units, settings, circumstances);
  add_rows(input.b, input.units, settings, circumstances);
  section.blocks.push_back(std::move(settings));
  section.blocks.push_back(
      Note{NoteKind::remark,
           "Cycles: conditioning + measuring. After: the pressure read again when the sweep was "
           "done, so that a leak shows."});
  section.blocks.push_back(std::move(circumstances));
  add_remarks(input.a, section);
  add_remarks(input.b, section);
  return section;
}

}  // namespace fitting
