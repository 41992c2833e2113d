#include "controller/panel/secret.hpp"

#include <fmt/format.h>
#include <sys/random.h>

#include <array>

#include "protocol/error.hpp"

namespace controller::panel {

std::string new_secret() {
  std::array<unsigned char, 32> bytes;
  ENSURE(::getrandom(bytes.data(), bytes.size(), 0) == static_cast<ssize_t>(bytes.size()));
  std::string text;
  for (const unsigned char byte : bytes) text += fmt::format("{:02x}", byte);
  return text;
}

bool same_secret(std::string_view a, std::string_view b) {
  unsigned different = a.size() == b.size() ? 0u : 1u;
  for (size_t i = 0; i < a.size(); ++i) {
    const char other = i < b.size() ? b[i] : '\0';
    different |= static_cast<unsigned char>(a[i]) ^ static_cast<unsigned char>(other);
  }
  return different == 0;
}

}  // namespace controller::panel
