// Sweeps of the virtual plant as a fit gets them: the record of a bench, and the fork file of an
// owner with a caliper. The plant has richer physics than the law that is fitted to it.
#pragma once

#include <catch2/catch.hpp>
#include <string>
#include <vector>

#include "controller/virtual_rig/plant_sweep.hpp"
#include "controller/virtual_rig/truth.hpp"
#include "protocol/record/fork_file.hpp"

namespace plant_records {

inline constexpr double kPsi_Pa = 6894.757293168362;

inline std::string forks_folder() {
  return SPRINGWRIGHT_SOURCE_DIR "/controller/virtual_rig/forks/";
}

struct VirtualFork {
  controller::virtual_rig::PlantFile plant;
  protocol::Fork caliper;

  explicit VirtualFork(const std::string& name) {
    const auto file = controller::virtual_rig::load_plant(forks_folder() + name + ".toml");
    REQUIRE(file);
    plant = *file;
    const auto fork = protocol::load_fork(forks_folder() + "caliper/" + name + ".toml");
    REQUIRE(fork);
    caliper = *fork;
  }

  protocol::Setting setting(double psi, int spacers) const {
    protocol::Setting out;
    out.pressure_gauge_Pa = psi * kPsi_Pa;
    out.spacers = spacers;
    return out;
  }

  protocol::SweepRecord sweep(double psi, int spacers, unsigned seed,
                              const controller::virtual_rig::SweepProgram& program = {}) const {
    controller::virtual_rig::Plant fork(plant);
    fork.pump(setting(psi, spacers));
    controller::virtual_rig::SweepInstrument instrument;
    instrument.seed = seed;
    protocol::SweepRecord record = controller::virtual_rig::plant_sweep(fork, program, instrument);
    record.metadata.fork = caliper;
    return record;
  }

  // Two pressures by two spacer counts.
  std::vector<protocol::SweepRecord> four_sweeps(
      const controller::virtual_rig::SweepProgram& program = {}) const {
    return {sweep(68.0, 0, 11, program), sweep(68.0, 2, 12, program), sweep(90.0, 0, 13, program),
            sweep(90.0, 2, 14, program)};
  }

  controller::virtual_rig::Truth truth(double psi, int spacers) const {
    return {plant, setting(psi, spacers)};
  }
};

}  // namespace plant_records
