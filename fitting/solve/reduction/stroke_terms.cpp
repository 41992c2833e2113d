#include "fitting/solve/reduction/stroke_terms.hpp"

#include <array>

#include "fitting/model/dual.hpp"
#include "protocol/error.hpp"

namespace fitting {
namespace {

using Number = Dual<kMostColumns>;

// What the strokes of a sweep have in common.
std::array<Number, kTerms> make_common(const SweepModel& model, const LawParameters<Number>& p,
                                       const ExponentLaw<Number>& law) {
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

StrokeTerms make_terms(const SweepModel& model, const std::array<Number, kTerms>& numbers,
                       const ReducedStroke& stroke) {
  StrokeTerms out;
  out.direction = stroke.direction;
  out.from_m = stroke.from_m;
  out.ambient_Pa = model.at.ambient_Pa;
  out.travel_m = model.geometry.travel_m;
  out.bumper_start_m = model.geometry.bumper_start_m;
  for (int term = 0; term < kTerms; ++term) {
    const Number& number = numbers[static_cast<std::size_t>(term)];
    out.value[term] = number.a;
    for (int column = 0; column < kMostColumns; ++column) {
      out.slope[term][column] = number.v[column];
      out.acts[term] = out.acts[term] || number.v[column] != 0.0;
    }
  }
  return out;
}

}  // namespace

std::vector<StrokeTerms> make_stroke_terms(const SweepModel& model,
                                           const LawParameters<double>& parameters,
                                           const std::vector<LawIndex>& by,
                                           const Reduction& reduction) {
  ENSURE(by.size() <= static_cast<std::size_t>(kMostColumns));
  const Chambers<double> plain = make_chambers(parameters, model.geometry, model.at.spacers);
  if (!volumes_remain(plain, reduction.largest_travel_m() + parameters[kTravelZero])) return {};
  LawParameters<Number> p;
  for (std::size_t i = 0; i < kLawSize; ++i) p[i] = Number(parameters[i]);
  for (std::size_t i = 0; i < by.size(); ++i) p[by[i]].v[i] = 1.0;

  const ExponentLaw<Number> law(p, model.geometry, model.at);
  std::array<Number, kTerms> numbers = make_common(model, p, law);
  std::vector<Number> end_N;  // friction at the end of each stroke
  std::vector<StrokeTerms> out;
  for (const ReducedStroke& stroke : reduction.strokes()) {
    const Number start_N =
        stroke.before < 0 ? Number(0.0) : end_N[static_cast<std::size_t>(stroke.before)];
    numbers[kFrictionAtTurn] = start_N;
    out.push_back(make_terms(model, numbers, stroke));
    end_N.push_back(law.friction_N(stroke.direction, stroke.to_m - stroke.from_m, start_N,
                                   law.parts(law.true_travel_m(stroke.to_m)).positive_Pa));
  }
  return out;
}

}  // namespace fitting
