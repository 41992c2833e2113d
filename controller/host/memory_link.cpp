#include "controller/host/memory_link.hpp"

#include <algorithm>

namespace controller::host {

using protocol::Result;

Result<size_t> MemoryLink::read_some(std::span<uint8_t> room, HostTime until) {
  while (incoming_.empty() && now_ < until) now_ = peer_.advance(until, incoming_);
  const size_t size = std::min(room.size(), incoming_.size());
  std::copy_n(incoming_.begin(), size, room.begin());
  incoming_.erase(incoming_.begin(), incoming_.begin() + static_cast<ptrdiff_t>(size));
  return size;
}

Result<void> MemoryLink::write(std::span<const uint8_t> bytes, HostTime) {
  peer_.receive(bytes, incoming_);
  return {};
}

}  // namespace controller::host
