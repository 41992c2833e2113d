// How soon the host stops a rig: from an over-limit sample on the port to the halt on it, against a
// bare echo of the same bytes on the same pseudo-terminal in the same run, by turns; on an idle
// computer and on one whose processors are all busy twice over. Usage: host_latency [TRIALS]
#include <fcntl.h>
#include <poll.h>
#include <unistd.h>

#include <algorithm>
#include <cstdio>
#include <cstdlib>
#include <random>

#include "controller/host/press.hpp"
#include "controller/host/serial_link.hpp"
#include "tests/benchmarks/line/streaming_rig.hpp"

namespace {

namespace host = controller::host;
using Latencies = std::vector<double>;  // us

constexpr int kBlock = 50;
constexpr double kSamples_per_s = 80.0;

double us(std::chrono::nanoseconds time) {
  return std::chrono::duration<double, std::micro>(time).count();
}

// A thread on the host's side that hands back what it reads.
class Echo {
 public:
  explicit Echo(const std::string& path) : fd_(open(path.c_str(), O_RDWR | O_NOCTTY)) {
    thread_ = std::thread([this] { run(); });
  }
  ~Echo() {
    stopping_ = true;
    thread_.join();
    close(fd_);
  }

 private:
  void run() {
    pollfd waited{fd_, POLLIN, 0};
    uint8_t bytes[512];
    while (!stopping_) {
      if (poll(&waited, 1, 20) <= 0) continue;
      const ssize_t size = read(fd_, bytes, sizeof bytes);
      if (size > 0 && write(fd_, bytes, static_cast<size_t>(size)) != size) std::abort();
    }
  }

  int fd_;
  std::atomic<bool> stopping_{false};
  std::thread thread_;
};

void echo_block(tests::StreamingRig& rig, Latencies& latencies) {
  rig.set_echo(true);
  {
    Echo echo(rig.path());
    for (int i = 0; i < kBlock; ++i) {
      latencies.push_back(us(rig.echo_once()));
      std::this_thread::sleep_for(std::chrono::milliseconds(5));
    }
  }
  rig.set_echo(false);
}

void stop_block(tests::StreamingRig& rig, std::mt19937& random, Latencies& latencies) {
  auto link = host::SerialLink::open(rig.path());
  if (!link) {
    std::fprintf(stderr, "%s\n", link.error().message.c_str());
    std::exit(1);
  }
  host::StopFlag stop;
  host::Session session(**link, {}, {});
  host::Press press(session, host::make_instruments(protocol::Bench(), nullptr, nullptr, nullptr),
                    {}, stop);
  bool good = session.open().has_value() && press.prepare().has_value() &&
              press.set_limits({-150.0, 2500.0, 0.0, 0.200}).has_value();
  for (int i = 0; good && i < kBlock; ++i) {
    rig.overload_soon(std::chrono::microseconds(1000 + random() % 15000));
    const auto moved = press.move_to(400, 0.004);
    good = !moved && moved.error().code == protocol::Errc::stopped_by_guard;
    // The halt is on its way.
    for (int wait = 0; wait < 2000 && !rig.halted_after(); ++wait) usleep(500);
    good = good && rig.halted_after() && press.prepare().has_value();
    if (good) latencies.push_back(us(*rig.halted_after()));
  }
  if (!good) {
    std::fprintf(stderr, "the host did not stop the rig\n");
    std::exit(1);
  }
}

double at_share(Latencies& sorted, double share) {
  return sorted[static_cast<size_t>(share * static_cast<double>(sorted.size() - 1))];
}

void measure(const char* where, int trials) {
  tests::StreamingRig rig(kSamples_per_s);
  std::mt19937 random(1);
  Latencies echo;
  Latencies stop;
  for (int done = 0; done < trials; done += kBlock) {
    echo_block(rig, echo);
    stop_block(rig, random, stop);
  }
  std::sort(echo.begin(), echo.end());
  std::sort(stop.begin(), stop.end());
  for (const auto& [name, share] :
       {std::pair("p50", 0.5), std::pair("p99", 0.99), std::pair("max", 1.0)}) {
    const double ratio = at_share(stop, share) / at_share(echo, share);
    std::printf("%s, %s of %zu: sample to halt %.0f us, bare echo %.0f us, ratio %.2f\n", where,
                name, stop.size(), at_share(stop, share), at_share(echo, share), ratio);
  }
}

class BusyProcessors {
 public:
  BusyProcessors() {
    for (unsigned i = 0; i < 2 * std::thread::hardware_concurrency(); ++i) {
      threads_.emplace_back([this] {
        volatile uint64_t sink = 0;
        while (!stopping_) sink = sink + 1;
      });
    }
  }
  ~BusyProcessors() {
    stopping_ = true;
    for (std::thread& thread : threads_) thread.join();
  }

 private:
  std::atomic<bool> stopping_{false};
  std::vector<std::thread> threads_;
};

}  // namespace

int main(int argc, char** argv) {
  const int trials = argc > 1 ? std::atoi(argv[1]) : 500;
  measure("idle", trials);
  const BusyProcessors busy;
  measure("under full load", trials);
  return 0;
}
