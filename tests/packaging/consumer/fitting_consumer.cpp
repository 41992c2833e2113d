// A fitted fork's slow spring at 70 psi without spacers, at three travels.
#include <cstdio>

#include "fitting/model/model_json.hpp"
#include "fitting/model/predict.hpp"
#include "protocol/record/file_system.hpp"
#include "protocol/units.hpp"

int main(int argc, char** argv) {
  if (argc != 2) return 2;
  const auto text = protocol::read_text_file(argv[1], 64 << 20);
  if (!text) return std::fprintf(stderr, "%s\n", text.error().message.c_str()), 1;
  const auto model = fitting::parse_model(*text, argv[1]);
  if (!model) return std::fprintf(stderr, "%s\n", model.error().message.c_str()), 1;
  const auto request = fitting::like_fitted(*model, protocol::from_unit(70.0, "psi"), 0);
  const auto force_N = fitting::slow_spring_N(*model, request, {0.0, 0.05, 0.1});
  if (!force_N) return std::fprintf(stderr, "%s\n", force_N.error().message.c_str()), 1;
  for (const double each : *force_N) std::printf("%.17g\n", each);
  return 0;
}
