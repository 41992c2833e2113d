#include "tests/benchmarks/fit_study/drawn_fork.hpp"

#include <algorithm>
#include <cmath>
#include <random>

#include "protocol/error.hpp"
#include "protocol/record/fork_file.hpp"

namespace fit_study {
namespace {

using controller::virtual_rig::PlantFile;
using protocol::SweepRecord;

constexpr double kPsi_Pa = 6894.757293168362;
constexpr double kStickingLength_m = 0.015;
constexpr double kStickingShare = 0.8;  // of the friction
constexpr double kSlip_m = 0.002;
constexpr double kGainStep = 0.03;
constexpr int kSpoiltSweep = 2;  // the one in which the bench changes

class Chance {
 public:
  explicit Chance(std::uint64_t seed) : random_(seed) {}
  double between(double low, double high) {
    return std::uniform_real_distribution<double>(low, high)(random_);
  }
  double normal(double deviation) {
    return std::normal_distribution<double>(0.0, deviation)(random_);
  }
  bool coin() { return between(0.0, 1.0) < 0.5; }

 private:
  std::mt19937_64 random_;
};

PlantFile load_base(const std::string& name) {
  auto file = controller::virtual_rig::load_plant(
      SPRINGWRIGHT_SOURCE_DIR "/controller/virtual_rig/forks/" + name + ".toml");
  ENSURE(file);
  return std::move(*file);
}

protocol::Fork load_caliper(const std::string& name) {
  auto file = protocol::load_fork(SPRINGWRIGHT_SOURCE_DIR "/controller/virtual_rig/forks/caliper/" +
                                  name + ".toml");
  ENSURE(file);
  return std::move(*file);
}

// As with a caliper: 10 to 25 % off, either way.
double measured(double truth, Chance& chance) {
  const double off = chance.between(0.10, 0.25);
  return truth * (chance.coin() ? 1.0 + off : 1.0 - off);
}

int direction_at(const SweepRecord& record, std::size_t row) {
  return record.stroke[row] % 2 == 0 ? +1 : -1;
}

}  // namespace

const char* name_of(Flaw flaw) {
  switch (flaw) {
    case Flaw::none:
      return "none";
    case Flaw::missing_chamber:
      return "missing chamber";
    case Flaw::doubled_friction:
      return "doubled friction";
    case Flaw::sticking_bushing:
      return "sticking bushing";
    case Flaw::slipped_travel:
      return "slipped travel";
    case Flaw::gain_step:
      return "gain step";
  }
  return "";
}

DrawnFork::DrawnFork(std::uint64_t seed, Flaw flaw) : seed_(seed), flaw_(flaw) {
  Chance chance(seed);
  const std::string base = chance.coin() ? "larch_160" : "basalt_160";
  plant_ = load_base(base);
  caliper_ = load_caliper(base);
  auto& fork = plant_.fork;
  fork.positive.volume_m3 *= chance.between(0.88, 1.15);
  fork.negative.volume_m3 *= chance.between(0.8, 1.25);
  fork.lower_legs.volume_m3 *= chance.between(0.9, 1.2);
  fork.preload_N = chance.between(0.0, 25.0);
  fork.friction.coulomb_N *= chance.between(0.5, 1.8);
  fork.friction.coulomb_N_per_Pa *= chance.between(0.5, 1.5);
  fork.friction.bristles.bristle_stiffness_N_m *= chance.between(0.6, 1.6);
  fork.friction.bristles.static_ratio = chance.between(1.0, 1.1);
  fork.port.centre_m = chance.between(1.8e-3, 4.5e-3);
  fork.port.band_m *= chance.between(0.8, 1.4);
  const double wall = chance.between(0.6, 1.7);
  fork.positive.wall.coefficient_W_m2K *= wall;
  fork.negative.wall.coefficient_W_m2K *= wall * chance.between(0.75, 1.3);
  fork.lower_legs.wall.coefficient_W_m2K *= chance.between(0.7, 1.4);
  program_.speed_m_s = chance.between(2e-3, 8e-3);
  room_K_ = chance.between(285.0, 300.0);
  low_Pa_ = chance.between(58.0, 72.0) * kPsi_Pa;
  high_Pa_ = low_Pa_ + chance.between(14.0, 26.0) * kPsi_Pa;
  more_spacers_ = chance.coin() ? 1 : 2;

  caliper_.air_spring.positive_volume_m3->value = measured(fork.positive.volume_m3, chance);
  caliper_.air_spring.negative_volume_m3->value = measured(fork.negative.volume_m3, chance);
  if (caliper_.lower_legs.volume_m3) {
    caliper_.lower_legs.volume_m3->value = measured(fork.lower_legs.volume_m3, chance);
  }
  // The doubts that a record without certificates states (protocol::InstrumentDoubt).
  const protocol::InstrumentDoubt doubt;
  error_ = {chance.normal(doubt.gain_relative), chance.normal(doubt.zero_N),
            chance.normal(doubt.travel_zero_m), chance.normal(doubt.gauge_relative)};
  switch (flaw) {
    case Flaw::missing_chamber:
      // What is left of it holds next to nothing, and the port joins nothing worth naming.
      fork.negative.volume_m3 = 2e-6;
      place_ = {0.0, 0.030};
      break;
    case Flaw::doubled_friction:
      place_ = {0.5 * program_.to_m, program_.to_m};
      break;
    case Flaw::sticking_bushing: {
      const double from_m = chance.between(0.03, 0.11);
      place_ = {from_m, from_m + kStickingLength_m};
      break;
    }
    case Flaw::slipped_travel:
      place_ = {chance.between(0.02, 0.12), program_.to_m};
      break;
    case Flaw::gain_step:
      place_ = {0.5 * program_.to_m, program_.to_m};
      break;
    case Flaw::none:
      break;
  }
}

protocol::Setting DrawnFork::setting(double pressure_gauge_Pa, int spacers) const {
  protocol::Setting out;
  out.pressure_gauge_Pa = pressure_gauge_Pa;
  out.spacers = spacers;
  out.temperature_K = room_K_;
  out.vent.temperature_K = room_K_;
  return out;
}

controller::virtual_rig::Truth DrawnFork::truth(double pressure_gauge_Pa) const {
  return {plant_, setting(pressure_gauge_Pa, 0)};
}

SweepRecord DrawnFork::sweep(double pressure_gauge_Pa, int spacers, unsigned number) const {
  controller::virtual_rig::Plant fork(plant_);
  fork.pump(setting(pressure_gauge_Pa, spacers));
  controller::virtual_rig::SweepInstrument instrument;
  instrument.seed = seed_ * 16 + number;
  SweepRecord record = controller::virtual_rig::plant_sweep(fork, program_, instrument);
  record.metadata.fork = caliper_;
  record.metadata.record_id = "sweep-" + std::to_string(number);
  spoil(record, number);
  // What the instruments make of it.
  Chance reading(seed_ * 16 + number + 7);
  const protocol::InstrumentDoubt doubt;
  record.metadata.setting.pressure_gauge_Pa =
      pressure_gauge_Pa / (1.0 + error_.gauge) + reading.normal(doubt.gauge_reading_Pa);
  for (std::size_t row = 0; row < record.size(); ++row) {
    record.force_N[row] = record.force_N[row] * (1.0 + error_.gain) + error_.zero_N;
    record.travel_m[row] += error_.travel_zero_m;
  }
  return record;
}

void DrawnFork::spoil(SweepRecord& record, unsigned number) const {
  const bool changes = number == kSpoiltSweep;
  const std::size_t middle = record.size() * 11 / 20;
  bool slipped = false;
  for (std::size_t row = 0; row < record.size(); ++row) {
    const int direction = direction_at(record, row);
    const double x_m = record.travel_m[row];
    const bool inside = x_m >= place_.from_m && x_m <= place_.to_m;
    if (flaw_ == Flaw::doubled_friction && inside) {
      record.force_N[row] += direction * truth(low_Pa_).friction_N(x_m, program_.speed_m_s);
    }
    if (flaw_ == Flaw::sticking_bushing && inside) {
      record.force_N[row] +=
          kStickingShare * direction * truth(low_Pa_).friction_N(x_m, program_.speed_m_s);
    }
    if (flaw_ == Flaw::slipped_travel && changes) {
      // Once, on a way in after the middle; from there on the record reads too far.
      slipped = slipped || (row > middle && direction > 0 && x_m > place_.from_m);
      if (slipped) record.travel_m[row] += kSlip_m;
    }
    if (flaw_ == Flaw::gain_step && changes && row > middle) record.force_N[row] *= 1.0 + kGainStep;
  }
}

std::vector<SweepRecord> DrawnFork::sweeps() const {
  return {sweep(low_Pa_, 0, 1), sweep(low_Pa_, more_spacers_, 2), sweep(high_Pa_, 0, 3),
          sweep(high_Pa_, more_spacers_, 4)};
}

}  // namespace fit_study
