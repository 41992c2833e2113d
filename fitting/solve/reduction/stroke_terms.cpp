#include "fitting/solve/reduction/stroke_terms.hpp"

#include <array>
#include <cmath>

#include "fitting/model/dual.hpp"
#include "protocol/error.hpp"

namespace fitting {
namespace {

// What the strokes of a sweep have in common.
template <class Number>
std::array<Number, kTerms> make_common(const SweepModel& model, const LawParameters<Number>& p,
                                       const ExponentLaw<Number>& law) {
  using std::log;
  const Chambers<Number> chambers = make_chambers(p, model.geometry, model.at.spacers);
  std::array<Number, kTerms> out;
  const Number& joined_m = p[kTransferTravel];
  out[kAirExponent] = p[kExponent];
  out[kLowerExponent] = p[kLowerLegExponent];
  out[kPositiveLog] = log(law.joined_Pa()) + p[kExponent] * log(chambers.positive_m3(joined_m));
  out[kNegativeLog] = log(law.joined_Pa()) + p[kExponent] * log(chambers.negative_m3(joined_m));
  out[kLowerLog] = log(law.lower_Pa()) + p[kLowerLegExponent] * log(chambers.lower_m3(Number(0.0)));
  out[kPositiveStart] = chambers.positive_0_m3;
  out[kNegativeStart] = chambers.negative_0_m3;
  out[kLowerStart] = chambers.lower_0_m3;
  out[kPistonArea] = chambers.piston_area_m2;
  out[kAnnulusArea] = chambers.annulus_area_m2;
  out[kLowerArea] = chambers.lower_area_m2;
  out[kConstantForce] = p[kPreload];
  out[kGasRise] = p[kDamperGas];
  out[kBumper] = p[kBumperForce];
  out[kSliding] = p[kFriction];
  out[kSlidingPerPressure] = p[kFrictionPerPressure];
  out[kPresliding] = p[kPreslidingTravel];
  out[kZero] = p[kTravelZero];
  return out;
}

void put(const double& number, int term, StrokeTerms& out) {
  out.value[term] = number;
}
template <int N>
void put(const Dual<N>& number, int term, StrokeTerms& out) {
  out.value[term] = number.a;
  for (int column = 0; column < N; ++column) {
    out.slope[term][column] = number.v[column];
    out.acts[term] = out.acts[term] || number.v[column] != 0.0;
  }
}

template <class Number>
std::vector<StrokeTerms> make_terms(const SweepModel& model, const LawParameters<Number>& p,
                                    const Reduction& reduction) {
  const ExponentLaw<Number> law(p, model.geometry, model.at);
  std::array<Number, kTerms> numbers = make_common(model, p, law);
  std::vector<Number> end_N;  // friction at the end of each stroke
  std::vector<StrokeTerms> out(reduction.strokes().size());
  end_N.reserve(out.size());
  for (std::size_t i = 0; i < out.size(); ++i) {
    const ReducedStroke& stroke = reduction.strokes()[i];
    const Number start_N =
        stroke.before < 0 ? Number(0.0) : end_N[static_cast<std::size_t>(stroke.before)];
    numbers[kFrictionAtTurn] = start_N;
    StrokeTerms& terms = out[i];
    terms.direction = stroke.direction;
    terms.from_m = stroke.from_m;
    terms.ambient_Pa = model.at.ambient_Pa;
    terms.travel_m = model.geometry.travel_m;
    terms.bumper_start_m = model.geometry.bumper_start_m;
    for (int term = 0; term < kTerms; ++term) {
      put(numbers[static_cast<std::size_t>(term)], term, terms);
    }
    end_N.push_back(law.friction_N(stroke.direction, stroke.to_m - stroke.from_m, start_N,
                                   law.parts(law.true_travel_m(stroke.to_m)).positive_Pa));
  }
  return out;
}

template <int N>
std::vector<StrokeTerms> make_with_slopes(const SweepModel& model,
                                          const LawParameters<double>& parameters,
                                          const std::vector<LawIndex>& by,
                                          const Reduction& reduction) {
  LawParameters<Dual<N>> p;
  for (std::size_t i = 0; i < kLawSize; ++i) p[i] = Dual<N>(parameters[i]);
  for (std::size_t i = 0; i < by.size(); ++i) p[by[i]].v[i] = 1.0;
  return make_terms(model, p, reduction);
}

}  // namespace

std::vector<StrokeTerms> make_stroke_terms(const SweepModel& model,
                                           const LawParameters<double>& parameters,
                                           const std::vector<LawIndex>& by,
                                           const Reduction& reduction) {
  ENSURE(by.size() <= static_cast<std::size_t>(kMostColumns));
  const Chambers<double> plain = make_chambers(parameters, model.geometry, model.at.spacers);
  if (!volumes_remain(plain, reduction.largest_travel_m() + parameters[kTravelZero])) return {};
  if (by.empty()) return make_terms(model, parameters, reduction);
  // Dual numbers no wider than they must be.
  constexpr int kFew = 8;
  if (by.size() <= kFew) return make_with_slopes<kFew>(model, parameters, by, reduction);
  return make_with_slopes<kMostColumns>(model, parameters, by, reduction);
}

}  // namespace fitting
