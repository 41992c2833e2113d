// What a target found wrong with an answer: it stops there, and the input is kept.
#pragma once

#include <cstdio>
#include <cstdlib>
#include <string_view>

namespace tests::fuzz {

inline void must(bool holds, const char* what) {
  if (holds) return;
  std::fprintf(stderr, "does not hold: %s\n", what);
  std::abort();
}

inline std::string_view text_of(const unsigned char* bytes, std::size_t size) {
  return {reinterpret_cast<const char*>(bytes), size};
}

}  // namespace tests::fuzz
