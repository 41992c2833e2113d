#include "controller/cli/workshop/identity.hpp"

#include <fmt/chrono.h>

#include <cstdint>
#include <ctime>
#include <random>

namespace controller::cli {

std::string utc_now() {
  return fmt::format("{:%Y-%m-%dT%H:%M:%SZ}", fmt::gmtime(std::time(nullptr)));
}

std::string today() {
  return utc_now().substr(0, 10);
}

std::string new_record_id() {
  std::random_device random;
  const uint64_t bits = (uint64_t{random()} << 32) | random();
  return fmt::format("{:%Y%m%dT%H%M%SZ}-{:012x}", fmt::gmtime(std::time(nullptr)),
                     bits & 0xffff'ffff'ffffULL);
}

}  // namespace controller::cli
