// Every input that fuzzing kept, once more, in the ordinary build: an input that once broke
// something breaks it for ever after.
#include <catch2/catch.hpp>
#include <filesystem>
#include <fstream>
#include <iterator>

#include "tests/fuzz/targets.hpp"

namespace {

std::vector<uint8_t> bytes_of(const std::filesystem::path& path) {
  std::ifstream file(path, std::ios::binary);
  return {std::istreambuf_iterator<char>(file), std::istreambuf_iterator<char>()};
}

}  // namespace

TEST_CASE("fuzz: every kept input is taken without harm", "[fuzz]") {
  for (const tests::fuzz::Target& target : tests::fuzz::kTargets) {
    const auto folder = std::filesystem::path(SPRINGWRIGHT_SOURCE_DIR) / "tests/fuzz/corpus" /
                        std::string(target.name);
    int inputs = 0;
    for (const auto& entry : std::filesystem::directory_iterator(folder)) {
      const std::vector<uint8_t> bytes = bytes_of(entry.path());
      // An abort ends the program; this line says at which input.
      INFO(entry.path().string());
      target.run(bytes.data(), bytes.size());
      ++inputs;
    }
    INFO(target.name);
    CHECK(inputs >= 5);
  }
}

TEST_CASE("fuzz: no input at all is an input, too", "[fuzz]") {
  const uint8_t nothing = 0;
  for (const tests::fuzz::Target& target : tests::fuzz::kTargets) target.run(&nothing, 0);
  SUCCEED();
}
