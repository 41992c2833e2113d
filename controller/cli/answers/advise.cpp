// `springwright advise`: which sweep to make next, so that a quantity becomes surer.
#include <fmt/ostream.h>

#include <CLI/CLI.hpp>
#include <string>
#include <vector>

#include "controller/cli/answers/load_records.hpp"
#include "controller/cli/commands.hpp"
#include "controller/cli/options.hpp"
#include "fitting/solve/next_sweep.hpp"
#include "protocol/record/json_fields.hpp"

namespace controller::cli {
namespace {

using fitting::NextSweep;
using fitting::Prospect;
using protocol::Json;
using protocol::Result;

struct AdviseOptions {
  std::vector<std::string> records;
  std::string quantity;  // empty: what the spring is made of in the first place
  bool json = false;
};

constexpr std::size_t kTold = 6;

std::string words(const fitting::SweepCandidate& candidate) {
  std::string out;
  // A coil takes no pressure.
  if (candidate.pressure_gauge_Pa > 0.0) {
    out = fmt::format("{:.0f} psi, {} spacer{}, ",
                      protocol::in_unit(candidate.pressure_gauge_Pa, "psi"), candidate.spacers,
                      candidate.spacers == 1 ? "" : "s");
  }
  out += fmt::format("{:.1f} mm/s", 1e3 * candidate.speed_m_s);
  if (candidate.dwell_s > 0.0) {
    out += fmt::format(", resting {:.0f} s at each turn", candidate.dwell_s);
  }
  return out;
}

Json prospect_json(const Prospect& prospect) {
  return Json{{"pressure_psi", protocol::in_unit(prospect.candidate.pressure_gauge_Pa, "psi")},
              {"spacers", prospect.candidate.spacers},
              {"speed_mm_s", 1e3 * prospect.candidate.speed_m_s},
              {"dwell_s", prospect.candidate.dwell_s},
              {"standard_uncertainty", prospect.standard_uncertainty}};
}

void answer(const AdviseOptions& options, const NextSweep& next, Console& console) {
  if (options.json) {
    Json prospects = Json::array();
    for (const Prospect& each : next.prospects) prospects.push_back(prospect_json(each));
    console.out << protocol::json_text(Json{{"quantity", next.quantity},
                                            {"unit", next.unit},
                                            {"standard_uncertainty", next.standard_uncertainty},
                                            {"prospects", prospects}});
    return;
  }
  fmt::print(console.out, "{} is known to +- {:.2g} {} (standard uncertainty).\n", next.quantity,
             next.standard_uncertainty, next.unit);
  if (next.prospects.empty()) {
    fmt::print(console.out, "No further sweep could be looked ahead to.\n");
    return;
  }
  if (next.prospects.front().standard_uncertainty > 0.98 * next.standard_uncertainty) {
    fmt::print(console.out,
               "No single further sweep would make it much surer: what is left is the bench's own "
               "doubt, which a better certificate or gauge would shrink.\n");
    return;
  }
  fmt::print(console.out, "One more sweep would leave:\n");
  for (std::size_t i = 0; i < std::min(kTold, next.prospects.size()); ++i) {
    const Prospect& each = next.prospects[i];
    fmt::print(console.out, "  +- {:<8.2g} {:<4} ({:3.0f} % of now)   {}\n",
               each.standard_uncertainty, next.unit,
               100.0 * each.standard_uncertainty / next.standard_uncertainty,
               words(each.candidate));
  }
}

Result<void> run_advise(const AdviseOptions& options, Console& console) {
  const Result<std::vector<protocol::SweepRecord>> records = load_records(options.records, console);
  if (!records) return records.error();
  const bool air = protocol::has_air_spring(records->front().metadata.fork.kind);
  const std::string usual = air ? "positive_volume" : "coil_rate";
  const Result<NextSweep> next =
      fitting::find_next_sweep(*records, options.quantity.empty() ? usual : options.quantity);
  if (!next) return next.error();
  answer(options, *next, console);
  return {};
}

}  // namespace

void add_advise(Commands& commands) {
  auto [app, options] = commands.add<AdviseOptions>(
      "advise", "Say which further sweep would make a fitted quantity surer, and by how much.",
      run_advise);
  app.add_option("records", options.records, "The sweeps so far, of one fork")
      ->required()
      ->type_name("RECORD.csv...");
  app.add_option("--for", options.quantity,
                 "A parameter as `fit` names it [positive_volume, of a coil coil_rate]")
      ->type_name("NAME");
  add_json(app, options.json);
  add_examples(app, {"springwright advise sweeps/larch-*.csv --for positive_volume",
                     "springwright advise sweeps/larch-*.csv --for friction_mid_travel --json"});
}

}  // namespace controller::cli
