// Quantities that need nothing but force over travel.
#include <fmt/core.h>

#include <algorithm>
#include <cmath>

#include "fitting/curve/quantities.hpp"

namespace fitting {
namespace {

constexpr double kRateRangeLow = 0.05;  // of the covered travel: the turns are not searched
constexpr double kRateRangeHigh = 0.95;

// Propagates noise, gain, zero and travel zero through anything that is, to first order, a weighted
// sum of the curve's forces.
class Propagation {
 public:
  Propagation(const Curve& curve, const Rate& rate, const protocol::InstrumentDoubt& doubt)
      : curve_(curve),
        rate_N_m_(Eigen::Map<const Eigen::VectorXd>(
            rate.rate_N_m.data(), static_cast<Eigen::Index>(rate.rate_N_m.size()))),
        doubt_(doubt) {}

  double uncertainty(const Eigen::VectorXd& weights) const {
    const double random = weights.dot(curve_.covariance_N2 * weights);
    const double gain = doubt_.gain_relative * weights.dot(curve_.force_N);
    const double zero = doubt_.zero_N * weights.sum();
    const double travel = doubt_.travel_zero_m * weights.dot(rate_N_m_);
    return std::sqrt(std::max(0.0, random) + gain * gain + zero * zero + travel * travel);
  }

  // Weights of the force at a travel, linear between neighbours. REQUIRES: within the curve.
  Eigen::VectorXd at(double travel_m) const {
    Eigen::VectorXd weights = Eigen::VectorXd::Zero(curve_.force_N.size());
    const double place = std::clamp((travel_m - curve_.travel_m.front()) / curve_.grid_step_m, 0.0,
                                    static_cast<double>(curve_.size() - 1));
    const auto left = std::min(static_cast<Eigen::Index>(place), weights.size() - 2);
    weights(left + 1) = place - static_cast<double>(left);
    weights(left) = 1.0 - weights(left + 1);
    return weights;
  }

  // Weights of the work between two travels; whole cells are enough for a doubt.
  Eigen::VectorXd work(double from_m, double to_m) const {
    Eigen::VectorXd weights = Eigen::VectorXd::Zero(curve_.force_N.size());
    for (Eigen::Index i = 0; i < weights.size(); ++i) {
      const double x = curve_.travel_m[static_cast<std::size_t>(i)];
      if (x >= from_m && x <= to_m) weights(i) = curve_.grid_step_m;
    }
    return weights;
  }

 private:
  const Curve& curve_;
  Eigen::VectorXd rate_N_m_;
  const protocol::InstrumentDoubt& doubt_;
};

// Everything that the single quantities below read.
struct Ground {
  const Curve& curve;
  const CurveContext& context;
  Rate rate;
  Propagation propagation;

  double first_m() const { return curve.travel_m.front(); }
  double last_m() const { return curve.travel_m.back(); }
  double rate_at(double travel_m) const {
    return propagation.at(travel_m).dot(Eigen::Map<const Eigen::VectorXd>(
        rate.rate_N_m.data(), static_cast<Eigen::Index>(rate.rate_N_m.size())));
  }
  double rate_doubt_at(double travel_m) const {
    const auto i = static_cast<std::size_t>(
        std::lround((travel_m - curve.travel_m.front()) / curve.grid_step_m));
    const double random = rate.standard_uncertainty_N_m[std::min(i, curve.size() - 1)];
    return std::hypot(random, context.doubt.gain_relative * rate_at(travel_m));
  }
  std::string range_text() const {
    return fmt::format("the curve covers {:.1f} mm to {:.1f} mm", first_m() * 1e3, last_m() * 1e3);
  }
};

Quantity absent(std::string name, std::string why) {
  return {std::move(name), std::nullopt, std::nullopt, std::move(why)};
}

Quantity force_at_travel(const Ground& ground, double travel_m, const std::string& name) {
  const std::optional<double> force_N =
      force_at(ground.curve.travel_m, ground.curve.force_N, travel_m);
  if (!force_N) return absent(name, ground.range_text());
  return {name, force_N, ground.propagation.uncertainty(ground.propagation.at(travel_m)), ""};
}

// Where the curve carries a load, with the doubt of that place.
Quantity place_of_force(const Ground& ground, double force_N, const std::string& name) {
  const std::optional<double> travel_m =
      travel_at_force(ground.curve.travel_m, ground.curve.force_N, force_N);
  if (!travel_m)
    return absent(name,
                  fmt::format("no travel carries {:.1f} N: {}", force_N, ground.range_text()));
  const double rate_N_m = ground.rate_at(*travel_m);
  if (rate_N_m <= 0.0) return {name, *travel_m * 1e3, std::nullopt, "the curve is flat there"};
  const double doubt_m =
      ground.propagation.uncertainty(ground.propagation.at(*travel_m)) / rate_N_m;
  return {name, *travel_m * 1e3, doubt_m * 1e3, ""};
}

void add_free_extension(const Ground& ground, std::vector<Quantity>& out) {
  Quantity quantity = place_of_force(ground, 0.0, "free_extension_mm");
  if (!quantity.value) {
    quantity.note = fmt::format(
        "the force is {:.1f} N at the least travel covered, {:.1f} mm, and "
        "does not reach zero",
        ground.curve.force_N(0), ground.first_m() * 1e3);
  }
  out.push_back(std::move(quantity));
}

void add_sag(const Ground& ground, const QuantityOptions& options, std::vector<Quantity>& out) {
  if (!options.load_N) return;
  Quantity sag = place_of_force(ground, *options.load_N, "sag_mm");
  out.push_back({"sag_load_N", *options.load_N, std::nullopt, ""});
  out.push_back(sag);
  if (!sag.value) {
    out.push_back(absent("sag_percent", sag.note));
    out.push_back(absent("rate_at_sag_N_per_mm", sag.note));
    return;
  }
  Quantity percent{"sag_percent", std::nullopt, std::nullopt, "of the fork's stated travel"};
  const double per_mm = 0.1 / ground.context.fork_travel_m;
  percent.value = *sag.value * per_mm;
  if (sag.standard_uncertainty) percent.standard_uncertainty = *sag.standard_uncertainty * per_mm;
  out.push_back(percent);
  const double sag_m = *sag.value * 1e-3;
  out.push_back({"rate_at_sag_N_per_mm", ground.rate_at(sag_m) * 1e-3,
                 ground.rate_doubt_at(sag_m) * 1e-3, ""});
}

void add_lowest_rate(const Ground& ground, std::vector<Quantity>& out) {
  const double span_m = ground.last_m() - ground.first_m();
  std::optional<std::size_t> lowest;
  for (std::size_t i = 0; i < ground.curve.size(); ++i) {
    const double share = (ground.curve.travel_m[i] - ground.first_m()) / span_m;
    if (share < kRateRangeLow || share > kRateRangeHigh) continue;
    if (!lowest || ground.rate.rate_N_m[i] < ground.rate.rate_N_m[*lowest]) lowest = i;
  }
  if (!lowest) {
    out.push_back(absent("lowest_rate_N_per_mm", ground.range_text()));
    out.push_back(absent("lowest_rate_at_mm", ground.range_text()));
    return;
  }
  const double travel_m = ground.curve.travel_m[*lowest];
  out.push_back({"lowest_rate_N_per_mm", ground.rate.rate_N_m[*lowest] * 1e-3,
                 ground.rate_doubt_at(travel_m) * 1e-3,
                 "searched over 5 to 95 % of the covered travel, where a fork lags"});
  out.push_back({"lowest_rate_at_mm", travel_m * 1e3, std::nullopt, ""});
}

// Mean rate of the last third of the covered travel over that of the middle third.
void add_ramp(const Ground& ground, std::vector<Quantity>& out) {
  const double third_m = (ground.last_m() - ground.first_m()) / 3.0;
  const Eigen::VectorXd one = ground.propagation.at(ground.first_m() + third_m);
  const Eigen::VectorXd two = ground.propagation.at(ground.first_m() + 2.0 * third_m);
  const Eigen::VectorXd three = ground.propagation.at(ground.last_m());
  const double middle_N = (two - one).dot(ground.curve.force_N);
  const double last_N = (three - two).dot(ground.curve.force_N);
  if (middle_N <= 0.0) {
    out.push_back(absent("ramp_ratio", "the curve does not rise in its middle third"));
    return;
  }
  const double ramp = last_N / middle_N;
  const Eigen::VectorXd weights = ((three - two) - ramp * (two - one)) / middle_N;
  out.push_back(
      {"ramp_ratio", ramp, ground.propagation.uncertainty(weights),
       "mean rate of the last third of the covered travel over that of the middle third"});
}

void add_work(const Ground& ground, const std::string& name, double to_m,
              std::vector<Quantity>& out) {
  const std::optional<double> work =
      work_J(ground.curve.travel_m, ground.curve.force_N, ground.first_m(), to_m);
  if (!work) {
    out.push_back(absent(name, ground.range_text()));
    return;
  }
  out.push_back({name, work,
                 ground.propagation.uncertainty(ground.propagation.work(ground.first_m(), to_m)),
                 fmt::format("from {:.1f} mm to {:.1f} mm", ground.first_m() * 1e3, to_m * 1e3)});
}

}  // namespace

std::vector<Quantity> curve_quantities(const Curve& curve, const CurveContext& context,
                                       const QuantityOptions& options) {
  Rate rate = local_rate(curve);
  const Propagation propagation(curve, rate, context.doubt);
  const Ground ground{curve, context, std::move(rate), propagation};
  std::vector<Quantity> out;
  out.push_back(force_at_travel(ground, 0.002, "force_at_2_mm_N"));
  out.push_back(force_at_travel(ground, 0.005, "force_at_5_mm_N"));
  out.push_back(force_at_travel(ground, 0.5 * context.fork_travel_m, "force_at_mid_travel_N"));
  out.push_back(force_at_travel(ground, ground.last_m(), "force_at_full_travel_N"));
  out.push_back({"full_travel_mm", ground.last_m() * 1e3, std::nullopt, "the largest covered"});
  add_free_extension(ground, out);
  add_sag(ground, options, out);
  add_lowest_rate(ground, out);
  add_ramp(ground, out);
  add_work(ground, "work_to_full_travel_J", ground.last_m(), out);
  if (context.bumper_m) {
    add_work(ground, "work_to_bumper_J", context.fork_travel_m - *context.bumper_m, out);
  }
  if (options.work_travel_m) add_work(ground, "work_to_travel_J", *options.work_travel_m, out);
  return out;
}

const Quantity* find_quantity(const std::vector<Quantity>& quantities, const std::string& name) {
  const auto found = std::find_if(quantities.begin(), quantities.end(),
                                  [&](const Quantity& q) { return q.name == name; });
  return found == quantities.end() ? nullptr : &*found;
}

}  // namespace fitting
