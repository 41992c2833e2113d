#include "protocol/record/sha256.hpp"

#include <fmt/format.h>
#include <openssl/evp.h>

#include <array>

#include "protocol/error.hpp"

namespace protocol {

struct Sha256::Context {
  Context() : evp(EVP_MD_CTX_new()) { ENSURE(evp != nullptr); }
  ~Context() { EVP_MD_CTX_free(evp); }
  Context(const Context&) = delete;
  Context& operator=(const Context&) = delete;
  EVP_MD_CTX* evp;
};

Sha256::Sha256() : context_(std::make_unique<Context>()) {
  ENSURE(EVP_DigestInit_ex(context_->evp, EVP_sha256(), nullptr) == 1);
}
Sha256::~Sha256() = default;
Sha256::Sha256(Sha256&&) noexcept = default;
Sha256& Sha256::operator=(Sha256&&) noexcept = default;

void Sha256::update(std::string_view bytes) {
  ENSURE(EVP_DigestUpdate(context_->evp, bytes.data(), bytes.size()) == 1);
}

std::string Sha256::hex() {
  std::array<unsigned char, EVP_MAX_MD_SIZE> digest{};
  unsigned int size = 0;
  ENSURE(EVP_DigestFinal_ex(context_->evp, digest.data(), &size) == 1);
  std::string text;
  for (unsigned int i = 0; i < size; ++i) text += fmt::format("{:02x}", digest[i]);
  return text;
}

std::string sha256_hex(std::string_view bytes) {
  Sha256 hash;
  hash.update(bytes);
  return hash.hex();
}

}  // namespace protocol
