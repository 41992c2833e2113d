// A link on which something goes wrong at a chosen time, in both directions, and everything else
// passes as it is.
#pragma once

#include <deque>
#include <functional>
#include <optional>
#include <random>

#include "controller/host/link.hpp"
#include "protocol/wire/replies.hpp"

namespace tests::campaign {

namespace host = controller::host;

enum class LineFault {
  gone,              // the device vanishes
  deaf,              // the cable is cut: nothing arrives either way
  garbage_bytes,     // random bytes come in between
  dropped_bytes,     // some of the rig's bytes never come
  duplicated_bytes,  // some come twice
  damaged_frames,    // a bit flips in each of a few frames: their checksum is wrong
  forged_load,       // one sample says something else, and its checksum is right
  forged_position,
  forged_number,
  forged_time,
  late_replies,      // everything comes, later than any request is waited for
  lost_requests,     // what the host says next goes nowhere
  damaged_requests,  // the same with a flipped bit
};

class StruckLine final : public host::Link {
 public:
  // `inner` must outlive the line.
  StruckLine(host::Link& inner, uint64_t seed) : inner_(inner), random_(seed) {}

  // Called once, when the line's time reaches `delay` from now.
  void strike_in(std::chrono::milliseconds delay, std::function<void()> strike);
  bool struck() const { return struck_; }
  // From now on.
  void fail(LineFault fault);
  // Told of every request that the host makes.
  void set_on_request(std::function<void(uint8_t type)> on_request) {
    on_request_ = std::move(on_request);
  }

  const std::string& name() const override { return inner_.name(); }
  host::HostTime now() const override { return inner_.now() + cut_off_; }
  protocol::Result<size_t> read_some(std::span<uint8_t> room, host::HostTime until) override;
  protocol::Result<void> write(std::span<const uint8_t> bytes, host::HostTime until) override;

 private:
  void look_at_clock();
  bool takes(LineFault fault, int how_many = 1);
  void pass_in(std::span<const uint8_t> bytes);
  void pass_byte(uint8_t byte);
  void forge_frame();
  uint8_t random_byte() { return static_cast<uint8_t>(random_()); }

  host::Link& inner_;
  std::mt19937_64 random_;
  std::function<void()> strike_;
  std::function<void(uint8_t)> on_request_;
  host::HostTime strike_at_{0};
  host::HostTime cut_off_{0};  // what was waited for in vain, with the cable cut
  bool struck_ = false;
  std::optional<LineFault> fault_;
  int left_ = 0;  // bytes, frames or requests that it still hits
  std::deque<uint8_t> incoming_;
  std::vector<uint8_t> frame_;
  host::HostTime released_at_{0};
};

}  // namespace tests::campaign
