// A link whose n-th operation fails, for every n.
#pragma once

#include "controller/host/link.hpp"

namespace test_support {

class FailingLink final : public controller::host::Link {
 public:
  enum class How {
    lost,    // from then on the device is gone
    silent,  // from then on nothing comes, and what is written goes nowhere
  };

  // Counts from 0; negative: never. `inner` must outlive it.
  FailingLink(controller::host::Link& inner, int fail_at, How how)
      : inner_(inner), fail_at_(fail_at), how_(how) {}

  int operations() const { return count_; }
  bool failed() const { return fail_at_ >= 0 && count_ > fail_at_; }

  const std::string& name() const override { return inner_.name(); }
  controller::host::HostTime now() const override { return inner_.now() + silence_; }

  protocol::Result<size_t> read_some(std::span<uint8_t> room,
                                     controller::host::HostTime until) override {
    if (!fails()) return inner_.read_some(room, until);
    if (how_ == How::lost) return gone();
    if (until > now()) silence_ += until - now();
    return size_t{0};
  }
  protocol::Result<void> write(std::span<const uint8_t> bytes,
                               controller::host::HostTime until) override {
    if (!fails()) return inner_.write(bytes, until);
    if (how_ == How::lost) return gone();
    return {};
  }

 private:
  bool fails() {
    const int index = count_++;
    return fail_at_ >= 0 && index >= fail_at_;
  }
  static protocol::Error gone() {
    return {protocol::Errc::link_lost, "The rig at 'test' is gone."};
  }

  controller::host::Link& inner_;
  int fail_at_;
  How how_;
  int count_ = 0;
  controller::host::HostTime silence_{0};
};

}  // namespace test_support
