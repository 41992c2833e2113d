#include "controller/cli/bench/sweep_plan.hpp"

#include <cmath>

#include "controller/cli/workshop/identity.hpp"

namespace controller::cli {

namespace fs = std::filesystem;

using protocol::Errc;
using protocol::Error;
using protocol::Result;

namespace {

// Nine tenths and a little of the travel: short of the bottom-out bumper of most forks, in whole
// millimetres. 146 mm of 160.
double default_end_m(const protocol::Fork& fork) {
  return std::floor(fork.travel_m * 73.0 / 80.0 * 1e3 + 1e-6) / 1e3;
}

// A port by its name; of a virtual rig's file only the name, since folders differ.
std::string source_name(const BenchSetup& setup) {
  constexpr std::string_view kVirtual = "virtual:";
  if (!setup.rig_is_virtual()) return setup.rig;
  return std::string(kVirtual) + fs::path(setup.rig.substr(kVirtual.size())).filename().string();
}

}  // namespace

fs::path record_folder(const BenchSetup& setup) {
  return setup.workshop ? *setup.workshop / "sweeps" : fs::path();
}

host::SweepPlan make_sweep_plan(const SweepOptions& options, const BenchSetup& setup,
                                const protocol::Fork& fork, const protocol::Setting& setting) {
  host::SweepPlan plan;
  plan.metadata.record_id = new_record_id();
  plan.metadata.created = utc_now();
  plan.metadata.source = source_name(setup);
  plan.metadata.rig_id = setup.bench.rig_id;
  plan.metadata.fork = fork;
  plan.metadata.setting = setting;
  plan.metadata.setting.damper_clicks = options.clicks;
  plan.metadata.conditions.settled_s = options.settled_s;
  plan.metadata.conditions.room_temperature_start_K = options.room_K;
  plan.metadata.conditions.mounting = options.mounting;
  for (const std::string& warning : setup.warnings) plan.metadata.remarks.push_back(warning);
  plan.speed_m_s = options.speed_m_s.value_or(setup.bench.speed_m_s);
  plan.to_m = options.to_m.value_or(default_end_m(fork));
  plan.measuring_cycles = options.cycles.value_or(3);
  plan.conditioning_cycles = options.conditioning.value_or(2);
  plan.settle_s = options.settle_s;
  plan.force_max_N = setup.bench.force_max_N;
  plan.travel_max_m = setup.bench.travel_max_m;
  plan.top_out.coupling = setup.bench.coupling;
  plan.force_certificate = setup.force;
  return plan;
}

protocol::Metadata metadata_for_fit(const host::SweepPlan& plan, const BenchSetup& setup) {
  protocol::Metadata out = plan.metadata;
  out.origin = "sweep";
  out.conditioning_cycles = plan.conditioning_cycles;
  out.program = plan.program;
  out.force_calibration = setup.instruments.force;
  out.travel_calibration = setup.instruments.travel;
  out.frame_calibration = setup.instruments.frame;
  out.doubt = setup.instruments.doubt;
  return out;
}

int strokes_of(const host::SweepPlan& plan) {
  int cycles = plan.conditioning_cycles;
  for (const protocol::SweepPart& part : host::parts_of(plan)) cycles += part.cycles;
  return 2 * cycles;
}

Result<void> check_scale(const BenchSetup& setup) {
  if (setup.force || setup.rig_is_virtual()) return {};
  return Error{
      Errc::calibration_unusable,
      "Without a force calibration the rig's force cannot be limited in newtons. Calibrate "
      "the load cell (\"springwright calibrate force\") and give its certificate with "
      "--force-calibration or in bench.toml."};
}

}  // namespace controller::cli
