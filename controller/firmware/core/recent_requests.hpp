// The last few answers, so that a repeated request is answered again and not carried out again.
//
// A host that misses an ack repeats the request with its sequence number. Four are enough for one
// request outstanding, a stop beside it, and both repeated late.
#pragma once

#include <stdint.h>

#include "protocol/wire/codes.hpp"

namespace controller {
namespace firmware {

class RecentRequests {
 public:
  // RETURNS the answer given to this request before, or null.
  const protocol::wire::Refusal* find(uint16_t sequence, uint8_t type) const {
    for (uint8_t i = 0; i < kKept; ++i) {
      const Answer& answer = answers_[i];
      if (answer.type == type && answer.sequence == sequence) return &answer.refusal;
    }
    return nullptr;
  }

  void remember(uint16_t sequence, uint8_t type, protocol::wire::Refusal refusal) {
    answers_[next_].sequence = sequence;
    answers_[next_].type = type;
    answers_[next_].refusal = refusal;
    next_ = static_cast<uint8_t>((next_ + 1u) % kKept);
  }

  void forget() { *this = RecentRequests(); }

 private:
  static constexpr uint8_t kKept = 4;

  struct Answer {
    uint16_t sequence = 0;
    uint8_t type = 0;  // no request has type 0
    protocol::wire::Refusal refusal = protocol::wire::Refusal::none;
  };

  Answer answers_[kKept];
  uint8_t next_ = 0;
};

}  // namespace firmware
}  // namespace controller
