// `springwright rig find|show|stop`: looking at rigs, and stopping one. Nothing moves.
#include <fmt/ostream.h>

#include <csignal>

#include "controller/cli/bench/rig_connection.hpp"
#include "controller/cli/bench/rig_options.hpp"
#include "controller/host/serial_link.hpp"
#include "controller/host/serial_port.hpp"
#include "controller/host/wire_words.hpp"
#include "protocol/record/json_fields.hpp"

namespace controller::cli {

namespace wire = protocol::wire;
using protocol::Errc;
using protocol::Error;
using protocol::Json;
using protocol::Result;

namespace {

// Who answers at the port, without moving anything.
std::string who_answers(const std::string& port) {
  Result<std::unique_ptr<host::SerialLink>> link = host::SerialLink::open(port);
  if (!link) return link.error().message;
  host::Session session(**link);
  const Result<void> open = session.open();
  return open ? "rig " + session.rig_id() : open.error().message;
}

}  // namespace

Result<void> run_rig_find(const RigOptions& options, Console& console) {
  const std::vector<std::string> ports = host::find_serial_ports();
  Json found = Json::array();
  for (const std::string& port : ports) {
    Json entry{{"port", port}};
    std::string note;
    if (const auto holder = host::holder_of_port(port)) {
      note = fmt::format("in use by process {} ({})", holder->process, holder->name);
    } else if (options.ask) {
      note = who_answers(port);
    }
    if (!note.empty()) entry["note"] = note;
    found.push_back(entry);
  }
  if (options.json) {
    console.out << protocol::json_text({{"ports", found}});
    return {};
  }
  for (const Json& entry : found) {
    fmt::print(console.out, "{}{}\n", entry["port"].get<std::string>(),
               entry.contains("note") ? "  " + entry["note"].get<std::string>() : "");
  }
  if (found.empty()) {
    fmt::print(console.out,
               "No serial port is there. A virtual rig is always at hand: --rig "
               "virtual:FILE.\n");
  }
  return {};
}

namespace {

struct Seen {
  std::vector<double> counts;
  uint16_t faults = 0;
  uint16_t flags = 0;
};

// Which inputs are tripped, so that a wiring can be tried by hand.
std::string tripped_words(uint16_t flags) {
  std::string words;
  const auto add = [&](uint16_t flag, const char* name) {
    if ((flags & flag) != 0) words += (words.empty() ? "" : ", ") + std::string(name);
  };
  add(wire::kFlagInputLow, "limit switch at the extended end");
  add(wire::kFlagInputHigh, "limit switch at the compressed end");
  add(wire::kFlagInputEmergencyStop, "emergency stop");
  return words.empty() ? "none" : words;
}

Result<Seen> look(host::Session& session, int readings) {
  Seen seen;
  const Result<uint16_t> started = session.request(wire::StartSampling{});
  if (!started) return started.error();
  session.restart_samples();
  const host::HostTime patience = session.now() + std::chrono::seconds(20);
  while (session.now() < patience &&
         (!session.status() || seen.counts.size() < static_cast<size_t>(readings))) {
    const Result<void> done = session.pump(session.now() + std::chrono::milliseconds(50));
    if (!done) return done.error();
    while (const auto sample = session.take_sample()) seen.counts.push_back(sample->load_counts);
    if (session.status() && (session.faults() & wire::kFaultLoadCellMissing) != 0) break;
  }
  seen.faults = session.faults();
  if (session.status()) seen.flags = session.status()->flags;
  return seen;
}

double mean(const std::vector<double>& values) {
  double sum = 0.0;
  for (const double value : values) sum += value;
  return sum / static_cast<double>(values.size());
}

}  // namespace

Result<void> run_rig_show(const RigOptions& options, Console& console) {
  const Result<BenchSetup> setup = load_bench_setup(options.bench);
  if (!setup) return setup.error();
  Result<RigConnection> connection = RigConnection::connect(setup->rig, {});
  if (!connection) return connection.error();
  host::Session& session = connection->session();
  const Result<void> open = session.open();
  if (!open) return open.error();
  const Result<Seen> seen = look(session, options.readings);
  if (!seen) return seen.error();

  const wire::HelloReply& rig = session.rig();
  const double steps_per_mm = setup->instruments.steps_per_m() / 1e3;
  Json answer{
      {"port", session.link().name()},
      {"rig_id", session.rig_id()},
      {"firmware", fmt::format("{}.{}", rig.firmware_version >> 8, rig.firmware_version & 0xFF)},
      {"protocol_version", rig.protocol_version},
      {"maximum_speed_mm_s", rig.maximum_speed_steps_per_s / steps_per_mm},
      {"samples_per_s", rig.nominal_samples_per_s},
      {"position", "unknown"},
      {"faults", host::fault_words(seen->faults)},
      {"inputs_tripped", tripped_words(seen->flags)},
      {"force_is_calibrated", setup->instruments.force_is_calibrated}};
  answer["counts"] = nullptr;
  answer["force_N"] = nullptr;
  if (!seen->counts.empty()) {
    answer["counts"] = mean(seen->counts);
    answer["force_N"] = setup->instruments.force_N(mean(seen->counts));
    answer["readings"] = seen->counts.size();
  }
  if (options.json) {
    console.out << protocol::json_text(answer);
    return {};
  }
  fmt::print(console.out, "Rig {} at {}, firmware {}, up to {:.1f} mm/s.\n", session.rig_id(),
             session.link().name(), answer["firmware"].get<std::string>(),
             answer["maximum_speed_mm_s"].get<double>());
  if (seen->counts.empty()) {
    fmt::print(console.out, "Load cell: no reading.\n");
  } else {
    fmt::print(console.out, "Load cell: {:.0f} counts, {:.1f} N{} (mean of {}).\n",
               mean(seen->counts), answer["force_N"].get<double>(),
               setup->instruments.force_is_calibrated ? "" : " by its nominal scale",
               seen->counts.size());
  }
  fmt::print(console.out, "Position: unknown until homed. Faults: {}.\n",
             host::fault_words(seen->faults));
  fmt::print(console.out, "Inputs tripped: {}.\n", tripped_words(seen->flags));
  return {};
}

namespace {

// Another program may hold the port: then it is asked to stop, as by Ctrl-C.
Result<void> stop_holder(const std::string& port, const Error& taken, const RigOptions& options,
                         Console& console) {
  const std::optional<host::PortHolder> holder = host::holder_of_port(port);
  if (!holder || holder->name != "springwright" || kill(holder->process, SIGINT) != 0) return taken;
  const std::string text =
      fmt::format("Process {} drives the rig and was told to stop it.", holder->process);
  if (options.json) {
    console.out << protocol::json_text({{"stopped", true}, {"text", text}});
  } else {
    fmt::print(console.out, "{}\n", text);
  }
  return {};
}

}  // namespace

Result<void> run_rig_stop(const RigOptions& options, Console& console) {
  const Result<BenchSetup> setup = load_bench_setup(options.bench);
  if (!setup) return setup.error();
  Result<RigConnection> connection = RigConnection::connect(setup->rig, {});
  if (!connection) {
    if (connection.error().code != Errc::port_taken) return connection.error();
    return stop_holder(setup->rig, connection.error(), options, console);
  }
  // Hello ends whatever ran, at once.
  const Result<void> open = connection->session().open();
  if (!open) return open.error();
  const std::string text = "The rig stands still; its position is unknown until it is homed.";
  if (options.json) {
    console.out << protocol::json_text({{"stopped", true}, {"text", text}});
  } else {
    fmt::print(console.out, "{}\n", text);
  }
  return {};
}

}  // namespace controller::cli
