#include "controller/host/deadline.hpp"

namespace controller::host {

Deadline::Deadline(boost::asio::io_context& context, std::function<void()> on_expiry)
    : on_expiry_(std::move(on_expiry)), timer_(context) {}

void Deadline::arm(std::chrono::steady_clock::time_point at) {
  const uint64_t generation = ++generation_;
  timer_.expires_at(at);
  timer_.async_wait([this, generation](boost::system::error_code error) {
    if (!error && generation == generation_) on_expiry_();
  });
}

void Deadline::disarm() {
  ++generation_;
  timer_.cancel();
}

}  // namespace controller::host
