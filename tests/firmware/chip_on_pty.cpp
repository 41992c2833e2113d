// The chip's own binary behind a pseudo-terminal, a second of it in a second, with a virtual fork
// in the press: what a host program opens like any rig. Prints the port's path; ends with a signal
// or when its standard input is closed. Usage: chip_on_pty PLANT.toml GAUGE_PRESSURE_PSI SPACERS
#include <poll.h>
#include <unistd.h>

#include <chrono>
#include <cstdio>
#include <cstdlib>

#include "controller/virtual_rig/pty.hpp"
#include "protocol/units.hpp"
#include "tests/firmware/simulated_rig.hpp"

namespace {

using Clock = std::chrono::steady_clock;

// Further behind than this the computer is too slow, and time is counted anew.
constexpr int64_t kLate_ms = 500;

class Bridge {
 public:
  Bridge(tests::SimulatedRig& rig, controller::virtual_rig::Pty& pty) : rig_(rig), pty_(pty) {}

  // Until standard input is closed.
  void run() {
    pollfd waited[] = {{STDIN_FILENO, POLLIN, 0}, {pty_.fd(), POLLIN, 0}};
    for (;;) {
      poll(waited, 2, 1);
      char ignored = 0;
      if ((waited[0].revents & (POLLIN | POLLHUP)) != 0 && read(STDIN_FILENO, &ignored, 1) <= 0) {
        return;
      }
      pass_input();
      follow_clock();
      const std::vector<uint8_t> fresh = rig_.take_output();
      unread_.insert(unread_.end(), fresh.begin(), fresh.end());
      pty_.write(unread_);
    }
  }

 private:
  void pass_input() {
    std::vector<uint8_t> bytes;
    if (pty_.read(bytes) > 0) rig_.receive(bytes.data(), bytes.size());
  }

  void follow_clock() {
    const auto since = std::chrono::duration_cast<std::chrono::milliseconds>(Clock::now() - epoch_);
    const int64_t behind_ms = since.count() - done_ms_;
    if (behind_ms > kLate_ms) done_ms_ = since.count() - kLate_ms;
    for (; done_ms_ < since.count(); ++done_ms_) rig_.advance_ms();
  }

  tests::SimulatedRig& rig_;
  controller::virtual_rig::Pty& pty_;
  std::vector<uint8_t> unread_;
  Clock::time_point epoch_ = Clock::now();
  int64_t done_ms_ = 0;
};

}  // namespace

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
  Bridge(rig, *pty).run();
  return 0;
}
