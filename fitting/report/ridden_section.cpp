// What was ridden: where in the travel the time was spent, how fast, and what the bench difference
// comes to there.
#include <fmt/format.h>

#include <cmath>

#include "fitting/report/comparison_report.hpp"
#include "fitting/report/numbers.hpp"
#include "fitting/report/pair_sentences.hpp"
#include "fitting/report/ridden_figures.hpp"

namespace fitting {
namespace {

constexpr double kCoverage = 2.0;

std::vector<LabelledRide> rides_of(const ComparisonInput& input) {
  std::vector<LabelledRide> out;
  if (input.rides.a) out.push_back({input.a.label, &*input.rides.a});
  if (input.rides.b) out.push_back({input.b.label, &*input.rides.b});
  return out;
}

std::string ride_sentence(const LabelledRide& each, const ReaderUnits& units) {
  const RideSummary& summary = each.ride->summary;
  return fmt::format(
      "{} was ridden for {} s that count, at {} of travel on average and {} at the deepest; half "
      "of "
      "the time it was beyond {}.",
      each.label, rounded(summary.time_s, 0), units.travel.text(summary.mean_m, 1),
      units.travel.text(summary.deepest_m, 1),
      units.travel.text(each.ride->time.travel_of_share(0.5), 1));
}

template <class Value>
void add_row(Table& table, const std::vector<LabelledRide>& rides, const std::string& what,
             Value value) {
  std::vector<std::string> row{what};
  for (const LabelledRide& each : rides) row.push_back(value(*each.ride));
  table.rows.push_back(std::move(row));
}

std::string percent(double share) {
  return rounded(100.0 * share, 1);
}

std::string band_text(const std::vector<LabelledRide>& rides, std::size_t band,
                      const ReaderUnits& units) {
  const TravelBand& first = rides.front().ride->bands[band];
  if (rides.back().ride->bands[band].to_m != first.to_m) {
    return fmt::format("Time in part {} of {} of the travel, %", band + 1,
                       rides.front().ride->bands.size());
  }
  return fmt::format("Time from {} to {}, %", units.travel.number(first.from_m, 0),
                     units.travel.text(first.to_m, 0));
}

Table rides_table(const std::vector<LabelledRide>& rides, const ReaderUnits& units) {
  Table table{"ridden", "The rides in numbers", {{"Quantity", ColumnKind::text}}, {}};
  for (const LabelledRide& each : rides) table.columns.push_back({each.label});
  const UnitScale& travel = units.travel;
  add_row(table, rides, "Time counted, s",
          [](const RideAnswer& ride) { return rounded(ride.summary.time_s, 1); });
  add_row(table, rides, travel.heading("Mean travel"),
          [&](const RideAnswer& ride) { return travel.number(ride.summary.mean_m, 1); });
  add_row(table, rides, travel.heading("Deepest travel"),
          [&](const RideAnswer& ride) { return travel.number(ride.summary.deepest_m, 1); });
  add_row(table, rides, units.distance.heading("Moved in"), [&](const RideAnswer& ride) {
    return units.distance.number(ride.summary.compressed_m, 1);
  });
  add_row(table, rides, units.distance.heading("Moved out"), [&](const RideAnswer& ride) {
    return units.distance.number(ride.summary.extended_m, 1);
  });
  add_row(table, rides, "Time standing still, %",
          [](const RideAnswer& ride) { return percent(ride.summary.still_share); });
  for (std::size_t k = 0; k < rides.front().ride->bands.size(); ++k) {
    add_row(table, rides, band_text(rides, k, units),
            [k](const RideAnswer& ride) { return percent(ride.bands[k].share); });
  }
  for (std::size_t k = 0; k < rides.front().ride->speed_shares.size(); ++k) {
    const std::string share =
        fmt::format("{:g} % of ", 100.0 * rides.front().ride->speed_shares[k]);
    add_row(table, rides, units.ride_speed.heading(share + "going in slower than"),
            [&, k](const RideAnswer& ride) {
              return units.ride_speed.number(ride.speeds.compression_m_s[k], 2);
            });
    add_row(table, rides, units.ride_speed.heading(share + "coming out slower than"),
            [&, k](const RideAnswer& ride) {
              return units.ride_speed.number(ride.speeds.extension_m_s[k], 2);
            });
  }
  return table;
}

std::string met_sentence(const ComparisonInput& input, const RiddenDifference& met) {
  const UnitScale& force = input.units.force;
  const std::string covered = fmt::format(" {} % of the time lies within the travel compared.",
                                          rounded(100.0 * met.share_covered, 0));
  const std::string start =
      input.pairs.front().heading + ", weighted by the time that was ridden at each travel, ";
  const std::string size = force.doubtful(std::abs(met.mean_N), met.standard_uncertainty_N);
  if (std::abs(met.mean_N) <= kCoverage * met.standard_uncertainty_N) {
    return start + "no difference is resolved on average (" + size + ")." + covered;
  }
  return start + (met.mean_N < 0.0 ? input.b.label : input.a.label) + " is the firmer by " + size +
         " on average." + covered;
}

}  // namespace

Section ridden_section(const ComparisonInput& input) {
  Section section{"ridden", "As ridden", {}};
  const std::vector<LabelledRide> rides = rides_of(input);
  if (rides.empty()) return section;
  std::string text;
  for (const LabelledRide& each : rides) {
    text += (text.empty() ? "" : " ") + ride_sentence(each, input.units);
  }
  section.blocks.push_back(Paragraph{text});
  if (input.rides.met) section.blocks.push_back(Paragraph{met_sentence(input, *input.rides.met)});
  section.blocks.push_back(time_beyond_figure(rides, input.units));
  section.blocks.push_back(ridden_speeds_figure(rides, input.units));
  section.blocks.push_back(rides_table(rides, input.units));
  for (const LabelledRide& each : rides) {
    for (const std::string& remark : each.ride->trace.remarks) {
      section.blocks.push_back(Note{NoteKind::remark, each.label + ": " + remark + "."});
    }
  }
  section.blocks.push_back(Note{
      NoteKind::remark,
      "Two rides are two trails, riders and days as much as two forks: only rides of one rider "
      "over one trail compare forks."});
  return section;
}

}  // namespace fitting
