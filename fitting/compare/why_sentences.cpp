#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "fitting/compare/sentences.hpp"

namespace fitting {
namespace {

constexpr std::size_t kPartsNamed = 3;
constexpr double kWorthNaming_N = 0.5;

std::vector<PartMean> largest_parts(const Contributions& all, double from_m, double to_m) {
  std::vector<PartMean> out;
  for (const Contribution& part : all.parts) {
    out.push_back({part.name, mean_between_N(all, part.difference_N, from_m, to_m)});
  }
  std::stable_sort(out.begin(), out.end(), [](const PartMean& a, const PartMean& b) {
    return std::abs(a.mean_N) > std::abs(b.mean_N);
  });
  std::erase_if(out, [](const PartMean& part) { return std::abs(part.mean_N) < kWorthNaming_N; });
  if (out.size() > kPartsNamed) out.resize(kPartsNamed);
  return out;
}

}  // namespace

std::vector<ThirdExplained> explain_thirds(const std::vector<Span>& thirds,
                                           const Contributions& all) {
  std::vector<ThirdExplained> out;
  for (const Span& third : thirds) {
    std::vector<PartMean> largest = largest_parts(all, third.from_m, third.to_m);
    if (largest.empty()) continue;
    out.push_back({third.from_m, third.to_m,
                   mean_between_N(all, all.total_N, third.from_m, third.to_m), std::move(largest)});
  }
  return out;
}

std::vector<std::string> why_sentences(const Names& names, const std::vector<Span>& thirds,
                                       const Contributions& all) {
  std::vector<std::string> out;
  for (const ThirdExplained& third : explain_thirds(thirds, all)) {
    std::string parts;
    for (const PartMean& part : third.largest) {
      parts += fmt::format("{}{} {:+.1f} N", parts.empty() ? "" : ", ", part.name, part.mean_N);
    }
    out.push_back(fmt::format(
        "From {:.0f} to {:.0f} mm the compression stroke of {} is {:.1f} N {} that of {}; most of "
        "it: {}.",
        1e3 * third.from_m, 1e3 * third.to_m, names.a, std::abs(third.total_N),
        third.total_N < 0.0 ? "below" : "above", names.b, parts));
  }
  return out;
}

}  // namespace fitting
