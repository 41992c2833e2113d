#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "fitting/compare/sentences.hpp"

namespace fitting {
namespace {

constexpr std::size_t kPartsNamed = 3;
constexpr double kWorthNaming_N = 0.5;

struct Mean {
  std::string name;
  double mean_N = 0.0;
};

std::vector<Mean> largest_parts(const Contributions& all, double from_m, double to_m) {
  std::vector<Mean> out;
  for (const Contribution& part : all.parts) {
    out.push_back({part.name, mean_between_N(all, part.difference_N, from_m, to_m)});
  }
  std::stable_sort(out.begin(), out.end(), [](const Mean& a, const Mean& b) {
    return std::abs(a.mean_N) > std::abs(b.mean_N);
  });
  std::erase_if(out, [](const Mean& part) { return std::abs(part.mean_N) < kWorthNaming_N; });
  if (out.size() > kPartsNamed) out.resize(kPartsNamed);
  return out;
}

}  // namespace

std::vector<std::string> why_sentences(const Names& names, const std::vector<Span>& thirds,
                                       const Contributions& all) {
  std::vector<std::string> out;
  for (const Span& third : thirds) {
    const double total_N = mean_between_N(all, all.total_N, third.from_m, third.to_m);
    std::string parts;
    for (const Mean& part : largest_parts(all, third.from_m, third.to_m)) {
      parts += fmt::format("{}{} {:+.1f} N", parts.empty() ? "" : ", ", part.name, part.mean_N);
    }
    if (parts.empty()) continue;
    out.push_back(fmt::format(
        "From {:.0f} to {:.0f} mm the compression stroke of {} is {:.1f} N {} that of {}; most of "
        "it: {}.",
        1e3 * third.from_m, 1e3 * third.to_m, names.a, std::abs(total_N),
        total_N < 0.0 ? "below" : "above", names.b, parts));
  }
  return out;
}

}  // namespace fitting
