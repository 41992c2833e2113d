// SHA-256 of bytes, as lower-case hexadecimal: the identity of files and certificates.
#pragma once

#include <memory>
#include <string>
#include <string_view>

namespace protocol {

class Sha256 {
 public:
  Sha256();
  ~Sha256();
  Sha256(Sha256&&) noexcept;
  Sha256& operator=(Sha256&&) noexcept;

  void update(std::string_view bytes);
  // Ends the hash; nothing may follow.
  std::string hex();

 private:
  struct Context;
  std::unique_ptr<Context> context_;
};

std::string sha256_hex(std::string_view bytes);

}  // namespace protocol
