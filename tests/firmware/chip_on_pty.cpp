// The chip's own binary behind a pseudo-terminal, a second of it in a second, with a virtual fork
// in the press: what a host program opens like any rig. Prints the port's path; ends with a signal
// or when its standard input is closed. Usage: chip_on_pty PLANT.toml GAUGE_PRESSURE_PSI SPACERS
#include <cstdio>
#include <cstdlib>

#include "protocol/units.hpp"
#include "tests/firmware/simulated_rig.hpp"
#include "tests/support/pty_bridge.hpp"

int main(int argc, char** argv) {
  if (argc != 4) {
    std::fprintf(stderr, "usage: chip_on_pty PLANT.toml GAUGE_PRESSURE_PSI SPACERS\n");
    return 2;
  }
  const auto plant = controller::virtual_rig::load_plant(argv[1]);
  auto pty = controller::virtual_rig::Pty::open();
  if (!plant || !pty) {
    std::fprintf(stderr, "%s\n", (plant ? pty.error() : plant.error()).message.c_str());
    return 1;
  }
  controller::virtual_rig::VirtualRigOptions options;
  options.setting.pressure_gauge_Pa = protocol::from_unit(std::atof(argv[2]), "psi");
  options.setting.spacers = std::atoi(argv[3]);
  tests::SimulatedRig rig(SPRINGWRIGHT_CHIP_ELF, *plant, options);
  std::printf("%s\n", pty->path().c_str());
  std::fflush(stdout);
  test_support::PtyBridge<tests::SimulatedRig>(rig, *pty).run();
  return 0;
}
