// Records made by the force law itself, so that a fit of them has nothing to explain but noise.
#pragma once

#include <random>

#include "tests/fitting/law_samples.hpp"
#include "tests/fitting/made_records.hpp"

namespace law_records {

struct Plan {
  double pressure_Pa = 558475.0;  // gauge
  int spacers = 1;
  double noise_N = 0.0;
  unsigned seed = 1;
  int cycles = 2;
  double rows_per_s = 20.0;
  double speed_m_s = 0.004;
};

inline protocol::Fork fork() {
  protocol::Fork out;
  out.name = "Larch 160";
  out.travel_m = 0.160;
  out.maximum_pressure_Pa = 1034214.0;
  out.air_spring.piston_diameter_m = 31.8e-3;
  out.air_spring.shaft_diameter_m = 9e-3;
  out.air_spring.positive_volume_m3 = protocol::Toleranced{240e-6, {}};
  out.air_spring.negative_volume_m3 = protocol::Toleranced{30e-6, {}};
  out.air_spring.transfer_travel_m = protocol::Toleranced{2.5e-3, {}};
  out.air_spring.spacer_volume_m3 = 7e-6;
  out.lower_legs.stanchion_diameter_m = 35e-3;
  out.lower_legs.volume_m3 = protocol::Toleranced{345e-6, {}};
  out.damper_rod_diameter_m = 10e-3;
  out.bumper_m = 7e-3;
  return out;
}

inline protocol::SweepRecord sweep(
    const Plan& plan, const fitting::LawParameters<double>& truth = law_samples::fork()) {
  made::Sweep way;
  way.high_m = 0.146;
  way.cycles = plan.cycles;
  way.rows_per_s = plan.rows_per_s;
  way.speed_m_s = plan.speed_m_s;
  protocol::SweepRecord record = made::sweep(way, [](double, int) { return 0.0; });
  record.metadata.record_id =
      "law-" + std::to_string(int(plan.pressure_Pa)) + "-" + std::to_string(plan.spacers);
  record.metadata.fork = fork();
  protocol::Setting& setting = record.metadata.setting;
  setting.pressure_gauge_Pa = plan.pressure_Pa;
  setting.spacers = plan.spacers;
  const fitting::HeatLaw<double> law(fitting::GasLaw::wall_coefficient, truth,
                                     law_samples::geometry(), fitting::make_circumstances(setting),
                                     law_samples::kReference);
  fitting::LawState<double> state = law.at_rest(record.travel_m[0], record.time_s[0]);
  std::mt19937_64 engine(plan.seed);
  std::normal_distribution<double> normal;
  for (std::size_t row = 0; row < record.size(); ++row) {
    law.advance(state, record.travel_m[row], record.time_s[row]);
    record.force_N[row] = law.force_N(state) + plan.noise_N * normal(engine);
  }
  return record;
}

}  // namespace law_records
