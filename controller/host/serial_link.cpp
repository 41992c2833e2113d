#include "controller/host/serial_link.hpp"

#include <fcntl.h>
#include <fmt/format.h>

#include "controller/host/asio.hpp"
#include "controller/host/deadline.hpp"
#include "controller/host/serial_port.hpp"

namespace controller::host {

namespace asio = boost::asio;
using boost::system::error_code;
using protocol::Errc;
using protocol::Error;
using protocol::Result;

struct SerialLink::Port {
  explicit Port(PortHandle opened) : handle(std::move(opened)) {}

  // Both end here: the operation itself, or its deadline by cancelling it.
  struct Outcome {
    bool done = false;
    error_code error;
    size_t size = 0;
  };

  void run(const Outcome& outcome) {
    while (!outcome.done) context.run_one();
    deadline.disarm();
  }

  PortHandle handle;
  asio::io_context context{1};
  // Without it a context with nothing to do counts as stopped.
  asio::executor_work_guard<asio::io_context::executor_type> work{context.get_executor()};
  // A second descriptor of the same port, since Asio closes the one that it is given.
  asio::serial_port tty{context};
  Deadline deadline{context, [this] { tty.cancel(); }};
};

namespace {

Error lost(const std::string& name, const error_code& error) {
  return {Errc::link_lost,
          fmt::format("The rig at '{}' is gone ({}): unplugged, or its power was cut. Its position "
                      "is unknown now; plug it in and home it.",
                      name, error == asio::error::eof ? "end of file" : error.message())};
}

auto completes(auto& outcome) {
  return [&outcome](error_code error, size_t size) { outcome = {true, error, size}; };
}

std::chrono::steady_clock::time_point time_point(HostTime time) {
  return std::chrono::steady_clock::time_point(
      std::chrono::duration_cast<std::chrono::steady_clock::duration>(time));
}

}  // namespace

SerialLink::SerialLink(std::string name, std::unique_ptr<Port> port)
    : name_(std::move(name)), port_(std::move(port)) {}

SerialLink::~SerialLink() = default;

Result<std::unique_ptr<SerialLink>> SerialLink::open(const std::string& path) {
  Result<PortHandle> handle = open_serial_port(path);
  if (!handle) return handle.error();
  auto port = std::make_unique<Port>(std::move(handle).value());
  error_code error;
  port->tty.assign(fcntl(port->handle.get(), F_DUPFD_CLOEXEC, 0), error);
  if (error) {
    return Error{Errc::not_a_rig,
                 fmt::format("The port '{}' cannot be waited for: {}.", path, error.message())};
  }
  return std::unique_ptr<SerialLink>(new SerialLink(path, std::move(port)));
}

HostTime SerialLink::now() const {
  return std::chrono::steady_clock::now().time_since_epoch();
}

Result<size_t> SerialLink::read_some(std::span<uint8_t> room, HostTime until) {
  Port::Outcome outcome;
  port_->deadline.arm(time_point(until));
  port_->tty.async_read_some(asio::buffer(room.data(), room.size()), completes(outcome));
  port_->run(outcome);
  if (outcome.error == asio::error::operation_aborted) return size_t{0};
  if (outcome.error) return lost(name_, outcome.error);
  return outcome.size;
}

Result<void> SerialLink::write(std::span<const uint8_t> bytes, HostTime until) {
  Port::Outcome outcome;
  port_->deadline.arm(time_point(until));
  asio::async_write(port_->tty, asio::buffer(bytes.data(), bytes.size()), completes(outcome));
  port_->run(outcome);
  if (outcome.error == asio::error::operation_aborted) {
    return Error{Errc::link_timeout,
                 fmt::format("The port '{}' takes no more bytes: {} of {} were handed over.", name_,
                             outcome.size, bytes.size())};
  }
  if (outcome.error) return lost(name_, outcome.error);
  return {};
}

}  // namespace controller::host
