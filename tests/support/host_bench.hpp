// The host side over a virtual rig in virtual time, and a short sweep to run on it.
#pragma once

#include <memory>
#include <string>

#include "controller/host/sweep.hpp"
#include "protocol/record/fork_file.hpp"
#include "tests/support/temporary_folder.hpp"
#include "tests/support/virtual_peer.hpp"

namespace test_support {

namespace host = controller::host;
namespace virtual_rig = controller::virtual_rig;

inline std::string plant_path(const std::string& name) {
  return std::string(SPRINGWRIGHT_SOURCE_DIR) + "/controller/virtual_rig/forks/" + name + ".toml";
}

inline protocol::Fork caliper_fork(const std::string& name) {
  const protocol::Result<protocol::Fork> fork =
      protocol::load_fork(std::string(SPRINGWRIGHT_SOURCE_DIR) +
                          "/controller/virtual_rig/forks/caliper/" + name + ".toml");
  ENSURE(fork);
  return *fork;
}

inline protocol::Setting setting_of(double pressure_psi, int spacers) {
  protocol::Setting setting;
  setting.pressure_gauge_Pa = protocol::from_unit(pressure_psi, "psi");
  setting.spacers = spacers;
  return setting;
}

inline virtual_rig::PlantFile plant_file(const std::string& name) {
  const protocol::Result<virtual_rig::PlantFile> file = virtual_rig::load_plant(plant_path(name));
  ENSURE(file);
  return *file;
}

// Fast and short: 30 mm of travel at 10 mm/s, one cycle of each kind.
inline host::SweepPlan short_plan(const std::filesystem::path& path,
                                  const protocol::Setting& setting) {
  host::SweepPlan plan;
  plan.path = path;
  plan.metadata.record_id = "test";
  plan.metadata.created = "2026-11-25T12:00:00Z";
  plan.metadata.source = "virtual";
  plan.metadata.fork = caliper_fork("larch_160");
  plan.metadata.setting = setting;
  plan.speed_m_s = 0.010;
  plan.to_m = 0.030;
  plan.conditioning_cycles = 1;
  plan.measuring_cycles = 1;
  plan.settle_s = 1.0;
  plan.top_out.coupling = setting.coupling;
  return plan;
}

// The shortest sweep there is, for scenes that are run a thousand times: 2 mm, one cycle.
inline host::SweepPlan tiny_plan(const std::filesystem::path& path,
                                 const protocol::Setting& setting) {
  host::SweepPlan plan = short_plan(path, setting);
  plan.to_m = 0.002;
  plan.conditioning_cycles = 0;
  plan.settle_s = 0.1;
  plan.top_out.zero_samples = 20;
  plan.top_out.approach_speed_m_s = 0.010;
  plan.top_out.pull_speed_m_s = 0.001;
  return plan;
}

// Everything between a link and a sweep. The link must outlive it.
struct HostSide {
  explicit HostSide(host::Link& link, const host::HeartbeatPolicy& beat = {},
                    const host::PressSettings& settings = {})
      : session(link, {}, beat),
        press(session, host::make_instruments(protocol::Bench(), nullptr, nullptr, nullptr),
              settings, stop) {}

  protocol::Result<host::SweepOutcome> sweep(const host::SweepPlan& plan,
                                             protocol::FileSystem& files,
                                             const host::SweepHooks& hooks = {}) {
    const protocol::Result<void> open = session.open();
    if (!open) return protocol::at("opening", open.error());
    host::AgreeingOperator person;
    const auto checked = host::go_through({}, person, stop);
    ENSURE(checked);
    host::Sweep sweep(press, files, plan, person, *checked, hooks);
    return sweep.run();
  }

  host::StopFlag stop;
  host::Session session;
  host::Press press;
};

// A virtual rig in virtual time, the carriage near its switch.
struct RigInMemory {
  explicit RigInMemory(const protocol::Setting& pumped = setting_of(81, 1),
                       const std::vector<virtual_rig::Fault>& faults = {})
      : setting(pumped), peer(plant_file("larch_160"), {1, pumped, faults, -0.011}), link(peer) {}

  // What the rig does once nobody speaks to it any more. RETURNS whether it ended standing still.
  bool comes_to_rest() {
    peer.run(std::chrono::seconds(4));
    const double before_m = peer.rig.carriage_m();
    peer.run(std::chrono::seconds(1));
    return peer.rig.rig().motion() == protocol::wire::Motion::idle &&
           peer.rig.carriage_m() == before_m;
  }

  protocol::Setting setting;
  VirtualPeer peer;
  host::MemoryLink link;
};

// A host side on a virtual rig.
struct HostBench : RigInMemory {
  explicit HostBench(const protocol::Setting& pumped = setting_of(81, 1),
                     const std::vector<virtual_rig::Fault>& faults = {})
      : RigInMemory(pumped, faults), host(link) {}

  protocol::Result<host::SweepOutcome> sweep(const host::SweepPlan& plan,
                                             const host::SweepHooks& hooks = {}) {
    return host.sweep(plan, files, hooks);
  }

  HostSide host;
  protocol::DiskFileSystem files;
};

}  // namespace test_support
