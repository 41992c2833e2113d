// What is tried with bytes of any kind. A target must return for every input; what it finds wrong
// beyond a crash it says by aborting.
#pragma once

#include <array>
#include <cstddef>
#include <cstdint>
#include <string_view>

namespace tests::fuzz {

void fuzz_decoder(const uint8_t* bytes, size_t size);
void fuzz_rig_core(const uint8_t* bytes, size_t size);
void fuzz_record(const uint8_t* bytes, size_t size);
void fuzz_csv_import(const uint8_t* bytes, size_t size);
void fuzz_fork_file(const uint8_t* bytes, size_t size);
void fuzz_bench_file(const uint8_t* bytes, size_t size);
void fuzz_model(const uint8_t* bytes, size_t size);
void fuzz_certificate(const uint8_t* bytes, size_t size);

struct Target {
  std::string_view name;  // of its corpus folder, too
  void (*run)(const uint8_t*, size_t);
};

inline constexpr std::array kTargets = {
    Target{"decoder", fuzz_decoder},     Target{"rig_core", fuzz_rig_core},
    Target{"record", fuzz_record},       Target{"csv_import", fuzz_csv_import},
    Target{"fork_file", fuzz_fork_file}, Target{"bench_file", fuzz_bench_file},
    Target{"model", fuzz_model},         Target{"certificate", fuzz_certificate},
};

}  // namespace tests::fuzz
