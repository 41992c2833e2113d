#include "fitting/compare/contributions.hpp"

#include <algorithm>
#include <cmath>

#include "protocol/error.hpp"

namespace fitting {
namespace {

constexpr double kSameTravel_m = 1e-9;

class Collector {
 public:
  explicit Collector(Contributions& out) : out_(out) {}

  void add(const std::string& name, const std::vector<double>& force_N, double sign) {
    auto found = std::find_if(out_.parts.begin(), out_.parts.end(),
                              [&](const Contribution& part) { return part.name == name; });
    const auto size = static_cast<Eigen::Index>(out_.travel_m.size());
    if (found == out_.parts.end()) {
      out_.parts.push_back({name, Eigen::VectorXd::Zero(size)});
      found = out_.parts.end() - 1;
    }
    found->difference_N += sign * Eigen::Map<const Eigen::VectorXd>(force_N.data(), size);
  }

 private:
  Contributions& out_;
};

std::vector<double> minus(const std::vector<double>& a, const std::vector<double>& b) {
  std::vector<double> out;
  for (std::size_t i = 0; i < a.size(); ++i) out.push_back(a[i] - b[i]);
  return out;
}

}  // namespace

Contributions contributions_of(const Prediction& a, const Prediction& b) {
  Contributions out;
  const std::size_t size = std::min(a.travel_m.size(), b.travel_m.size());
  for (std::size_t i = 0; i < size; ++i) {
    ENSURE(std::abs(a.travel_m[i] - b.travel_m[i]) < kSameTravel_m);
    out.travel_m.push_back(a.travel_m[i]);
  }
  out.total_N = Eigen::VectorXd::Zero(static_cast<Eigen::Index>(size));
  Collector collector(out);
  for (const auto& [prediction, sign] : {std::pair{&a, 1.0}, {&b, -1.0}}) {
    for (const ElementForce& element : prediction->elements) {
      collector.add(element.name, element.force_N, sign);
    }
    out.total_N += sign * Eigen::Map<const Eigen::VectorXd>(prediction->compression_N.data(),
                                                            static_cast<Eigen::Index>(size));
  }
  for (const auto& [prediction, sign] : {std::pair{&a, 1.0}, {&b, -1.0}}) {
    collector.add(kHeatPart, minus(prediction->midline_N, prediction->spring_N), sign);
    collector.add(kHalfLoopPart, minus(prediction->compression_N, prediction->midline_N), sign);
  }
  return out;
}

double mean_between_N(const Contributions& all, const Eigen::VectorXd& part_N, double from_m,
                      double to_m) {
  double sum_N = 0.0;
  int count = 0;
  for (std::size_t i = 0; i < all.travel_m.size(); ++i) {
    if (all.travel_m[i] < from_m || all.travel_m[i] > to_m) continue;
    sum_N += part_N(static_cast<Eigen::Index>(i));
    ++count;
  }
  return count > 0 ? sum_N / count : 0.0;
}

}  // namespace fitting
