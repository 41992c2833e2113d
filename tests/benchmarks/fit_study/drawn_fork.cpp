#include "tests/benchmarks/fit_study/drawn_fork.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <random>

#include "protocol/error.hpp"
#include "protocol/record/fork_file.hpp"

namespace fit_study {

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

namespace {

using controller::virtual_rig::PlantFile;
using protocol::SweepRecord;

constexpr double kPsi_Pa = 6894.757293168362;
constexpr double kStickingLength_m = 0.015;
constexpr double kSticking_N = 15.0;
constexpr double kFloatingShare = 0.2;  // of the positive chamber's volume
constexpr double kSlip_m = 0.002;
constexpr double kGainStep = 0.03;
constexpr unsigned kSpoiltSweep = 2;  // the one in which the bench changes

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

std::string id_of(unsigned number) {
  return "sweep-" + std::to_string(number);
}

}  // namespace

const char* name_of(Flaw flaw) {
  switch (flaw) {
    case Flaw::none:
      return "none";
    case Flaw::missing_chamber:
      return "missing chamber";
    case Flaw::extra_chamber:
      return "extra chamber";
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
  draw_fork(chance);
  draw_bench(chance);
  draw_flaw(chance);
}

// The stated range: one of two forks, and every part of it that is worked by gas or seals anew.
void DrawnFork::draw_fork(Chance& chance) {
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
  fork.friction.bristles.static_ratio = chance.between(1.0, 1.3);
  fork.port.centre_m = chance.between(1.8e-3, 4.5e-3);
  fork.port.band_m *= chance.between(0.8, 1.4);
  const double wall = chance.between(0.6, 1.7);
  fork.positive.wall.coefficient_W_m2K *= wall;
  fork.negative.wall.coefficient_W_m2K *= wall * chance.between(0.75, 1.3);
  fork.lower_legs.wall.coefficient_W_m2K *= chance.between(0.7, 1.4);
  caliper_.air_spring.positive_volume_m3->value = measured(fork.positive.volume_m3, chance);
  caliper_.air_spring.negative_volume_m3->value = measured(fork.negative.volume_m3, chance);
  if (caliper_.lower_legs.volume_m3) {
    caliper_.lower_legs.volume_m3->value = measured(fork.lower_legs.volume_m3, chance);
  }
}

void DrawnFork::draw_bench(Chance& chance) {
  program_.speed_m_s = chance.between(2e-3, 8e-3);
  room_K_ = chance.between(285.0, 300.0);
  low_Pa_ = chance.between(58.0, 72.0) * kPsi_Pa;
  high_Pa_ = low_Pa_ + chance.between(14.0, 26.0) * kPsi_Pa;
  more_spacers_ = chance.coin() ? 1 : 2;
  plant_.bench.load_cell.noise_N = chance.between(0.6, 2.0);
  // The doubts that a record without certificates states.
  const protocol::InstrumentDoubt doubt;
  error_ = {chance.normal(doubt.gain_relative), chance.normal(doubt.zero_N),
            chance.normal(doubt.travel_zero_m), chance.normal(doubt.gauge_relative)};
}

void DrawnFork::draw_flaw(Chance& chance) {
  const auto& fork = plant_.fork;
  const double end_m = program_.to_m;
  place_ = {0.5 * end_m, end_m};
  if (flaw_ == Flaw::missing_chamber) {
    plant_flaws_.negative_vented = true;
    place_ = {0.0, 0.030};
  }
  if (flaw_ == Flaw::extra_chamber) {
    // Filled to what the positive chamber reaches, cold and without spacers, where its place
    // begins.
    place_.from_m = chance.between(0.05, 0.09);
    const double fill_Pa = (low_Pa_ + protocol::kStandardAtmosphere_Pa) * fork.positive.volume_m3 /
                           (fork.positive.volume_m3 - fork.piston_area_m2() * place_.from_m);
    plant_flaws_.floating_chamber = {kFloatingShare * fork.positive.volume_m3, fill_Pa};
  }
  if (flaw_ == Flaw::doubled_friction) {
    place_.from_m = 0.5 * fork.travel_m;
    plant_flaws_.friction_zones = {{place_.from_m, fork.travel_m, 2.0, 0.0}};
  }
  if (flaw_ == Flaw::sticking_bushing) {
    place_.from_m = chance.between(0.03, 0.11);
    place_.to_m = place_.from_m + kStickingLength_m;
    plant_flaws_.friction_zones = {{place_.from_m, place_.to_m, 1.0, kSticking_N}};
  }
  if (flaw_ == Flaw::slipped_travel) place_.from_m = chance.between(0.02, 0.12);
}

std::string DrawnFork::spoilt_sweep() const {
  const bool of_bench = flaw_ == Flaw::slipped_travel || flaw_ == Flaw::gain_step;
  return of_bench ? id_of(kSpoiltSweep) : std::string();
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

std::string DrawnFork::described() const {
  const auto& fork = plant_.fork;
  return fmt::format(
      "{}: volumes {:.1f} {:.1f} {:.1f} cm3, port at {:.2f} mm, walls {:.1f} {:.1f} {:.1f} W/m2K, "
      "friction {:.1f} N + {:.2f} N/bar, static {:.2f}\n  swept at {:.1f} mm/s, {:.0f} and {:.0f} "
      "psi, 0 and {} spacers, {:.1f} K, noise {:.2f} N\n  gain {:+.2f} %, zero {:+.2f} N, travel "
      "zero {:+.2f} mm, gauge {:+.2f} %",
      fork.name, 1e6 * fork.positive.volume_m3, 1e6 * fork.negative.volume_m3,
      1e6 * fork.lower_legs.volume_m3, 1e3 * fork.port.centre_m,
      fork.positive.wall.coefficient_W_m2K, fork.negative.wall.coefficient_W_m2K,
      fork.lower_legs.wall.coefficient_W_m2K, fork.friction.coulomb_N,
      1e5 * fork.friction.coulomb_N_per_Pa, fork.friction.bristles.static_ratio,
      1e3 * program_.speed_m_s, low_Pa_ / kPsi_Pa, high_Pa_ / kPsi_Pa, more_spacers_, room_K_,
      plant_.bench.load_cell.noise_N, 100.0 * error_.gain, error_.zero_N,
      1e3 * error_.travel_zero_m, 100.0 * error_.gauge);
}

SweepRecord DrawnFork::sweep(double pressure_gauge_Pa, int spacers, unsigned number) const {
  controller::virtual_rig::Plant fork(plant_);
  fork.set_flaws(plant_flaws_);
  fork.pump(setting(pressure_gauge_Pa, spacers));
  controller::virtual_rig::SweepInstrument instrument;
  instrument.seed = seed_ * 16 + number;
  SweepRecord record = controller::virtual_rig::plant_sweep(fork, program_, instrument);
  record.metadata.fork = caliper_;
  record.metadata.record_id = id_of(number);
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

// What the bench does to the record from some moment on.
void DrawnFork::spoil(SweepRecord& record, unsigned number) const {
  if (number != kSpoiltSweep) return;
  const std::size_t middle = record.size() * 11 / 20;
  bool slipped = false;
  for (std::size_t row = middle; row < record.size(); ++row) {
    if (flaw_ == Flaw::gain_step) record.force_N[row] *= 1.0 + kGainStep;
    if (flaw_ != Flaw::slipped_travel) continue;
    // On a way in; from there on the record reads too far.
    const bool inwards = record.stroke[row] % 2 == 0;
    slipped = slipped || (inwards && record.travel_m[row] > place_.from_m);
    if (slipped) record.travel_m[row] += kSlip_m;
  }
}

// The fill is off by what the gauge's reading scatters.
SweepRecord DrawnFork::sweep_at(double reading_Pa, int spacers, unsigned number) const {
  Chance reading(seed_ * 16 + number + 7);
  const protocol::InstrumentDoubt doubt;
  const double scatter_Pa = reading.normal(doubt.gauge_reading_Pa);
  return sweep((reading_Pa - scatter_Pa) * (1.0 + error_.gauge), spacers, number);
}

DrawnFork DrawnFork::on_bench_of(const DrawnFork& other) const {
  DrawnFork out = *this;
  out.error_.gain = other.error_.gain;
  out.error_.gauge = other.error_.gauge;
  out.program_ = other.program_;
  out.room_K_ = other.room_K_;
  out.plant_.bench.load_cell = other.plant_.bench.load_cell;
  return out;
}

DrawnFork DrawnFork::mounted_anew(std::uint64_t seed) const {
  DrawnFork out = *this;
  out.seed_ = seed;
  Chance chance(seed);
  const protocol::InstrumentDoubt doubt;
  out.error_.zero_N = chance.normal(doubt.zero_N);
  out.error_.travel_zero_m = chance.normal(doubt.travel_zero_m);
  return out;
}

std::vector<SweepRecord> DrawnFork::sweeps() const {
  return {sweep(low_Pa_, 0, 1), sweep(low_Pa_, more_spacers_, 2), sweep(high_Pa_, 0, 3),
          sweep(high_Pa_, more_spacers_, 4)};
}

}  // namespace fit_study
