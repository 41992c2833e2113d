// A virtual rig behind a pseudo-terminal that writes down every sample as it goes onto the line, so
// that somebody else knows what a program had been told when it was killed.
// Usage: witnessed_rig PLANT.toml GAUGE_PRESSURE_PSI PACE WITNESS.txt     PACE: seconds in one of
// ours Prints the port's path; ends with a signal or when its standard input is closed. Each line
// of the witness: device time in us, raw steps, raw counts.
#include <cstdio>
#include <cstdlib>

#include "controller/virtual_rig/virtual_rig.hpp"
#include "protocol/units.hpp"
#include "protocol/wire/decoder.hpp"
#include "protocol/wire/replies.hpp"
#include "tests/support/pty_bridge.hpp"

int main(int argc, char** argv) {
  if (argc != 5) {
    std::fprintf(stderr, "usage: witnessed_rig PLANT.toml GAUGE_PRESSURE_PSI PACE WITNESS.txt\n");
    return 2;
  }
  using controller::virtual_rig::VirtualRig;
  const auto plant = controller::virtual_rig::load_plant(argv[1]);
  auto pty = controller::virtual_rig::Pty::open();
  std::FILE* const witness = std::fopen(argv[4], "w");
  if (!plant || !pty || witness == nullptr) {
    std::fprintf(stderr, "the plant, the terminal or the witness cannot be opened\n");
    return 1;
  }
  std::setvbuf(witness, nullptr, _IOLBF, 0);
  controller::virtual_rig::VirtualRigOptions options;
  options.setting.pressure_gauge_Pa = protocol::from_unit(std::atof(argv[2]), "psi");
  VirtualRig rig(*plant, options);
  protocol::wire::Decoder decoder;
  const auto write_down = [&](const std::vector<uint8_t>& bytes) {
    for (const uint8_t byte : bytes) {
      protocol::wire::Sample sample;
      if (decoder.feed(byte) != protocol::wire::Verdict::frame) continue;
      if (!decode(decoder.frame(), sample)) continue;
      std::fprintf(witness, "%lu %ld %ld\n", static_cast<unsigned long>(sample.time_us),
                   static_cast<long>(sample.position_steps), static_cast<long>(sample.load_counts));
    }
  };
  std::printf("%s\n", pty->path().c_str());
  std::fflush(stdout);
  test_support::PtyBridge<VirtualRig>(rig, *pty, std::atoi(argv[3]), write_down).run();
  std::fclose(witness);
  return 0;
}
