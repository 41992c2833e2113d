// One fuzzing program: the target that the build named.
#include "tests/fuzz/targets.hpp"

extern "C" int LLVMFuzzerTestOneInput(const uint8_t* bytes, size_t size) {
  tests::fuzz::SPRINGWRIGHT_FUZZ_TARGET(bytes, size);
  return 0;
}
