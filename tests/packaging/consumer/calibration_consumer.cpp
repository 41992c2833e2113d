// What a load cell's counts mean by a certificate.
#include <cstdio>
#include <cstdlib>

#include "calibration/certificate.hpp"

int main(int argc, char** argv) {
  if (argc != 3) return 2;
  const auto loaded = calibration::load_certificate(argv[1], "2026-01-01");
  if (!loaded) return std::fprintf(stderr, "%s\n", loaded.error().message.c_str()), 1;
  std::printf("%.17g\n", loaded->calibration.estimate(std::atof(argv[2])).value);
  return 0;
}
