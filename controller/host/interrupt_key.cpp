#include "controller/host/interrupt_key.hpp"

#include <csignal>

#include "controller/host/asio.hpp"

namespace controller::host {

struct InterruptKey::Signals {
  boost::asio::io_context context{1};
  boost::asio::signal_set set{context, SIGINT, SIGTERM};
  StopLevel level = StopLevel::none;

  void wait() {
    set.async_wait([this](boost::system::error_code error, int) {
      if (error) return;
      level = level == StopLevel::none ? StopLevel::stop : StopLevel::halt;
      wait();
    });
  }
};

InterruptKey::InterruptKey() : signals_(std::make_unique<Signals>()) {
  signals_->wait();
}

InterruptKey::~InterruptKey() = default;

void InterruptKey::wait() {
  while (signals_->level == StopLevel::none) signals_->context.run_one();
}

StopLevel InterruptKey::level() {
  signals_->context.poll();
  return signals_->level;
}

}  // namespace controller::host
