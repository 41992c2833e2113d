#include "controller/cli/setting_options.hpp"

#include <fmt/format.h>

#include <CLI/CLI.hpp>
#include <cctype>

#include "controller/cli/options.hpp"

namespace controller::cli {
namespace {

using protocol::Dimension;
using protocol::Errc;
using protocol::Error;
using protocol::Result;
using protocol::Setting;

constexpr double kRoom_K = 293.15;
// Air outside: from far above any workshop to deep below the sea's level. A gauge reading given by
// mistake falls outside.
constexpr double kAmbientMin_Pa = 30e3;
constexpr double kAmbientMax_Pa = 120e3;
constexpr double kTemperatureMin_K = 233.15;
constexpr double kTemperatureMax_K = 343.15;
constexpr double kAltitudeMin_m = -1000.0;
constexpr double kAltitudeMax_m = 11000.0;

Result<void> within(const char* option, const std::optional<double>& value, double low, double high,
                    const char* unit, const char* what) {
  if (!value || (*value >= low && *value <= high)) return {};
  return Error{Errc::usage,
               fmt::format("{} is {:.6g} {}; {} from {:.6g} to {:.6g} {}.", option,
                           protocol::in_unit(*value, unit), unit, what,
                           protocol::in_unit(low, unit), protocol::in_unit(high, unit), unit)};
}

Result<void> check_ranges(const SettingOptions& options, const protocol::Fork& fork) {
  const auto air = [](const char* option, const std::optional<double>& value) {
    return within(option, value, kAmbientMin_Pa, kAmbientMax_Pa, "kPa",
                  "it is an absolute pressure of the air around,");
  };
  const auto temperature = [](const char* option, const std::optional<double>& value) {
    return within(option, value, kTemperatureMin_K, kTemperatureMax_K, "degC",
                  "a bench is at a temperature");
  };
  Result<void> done = air("--ambient-pressure", options.ambient_pressure_Pa);
  if (done) done = air("--vented-pressure", options.vented_pressure_Pa);
  if (done) done = air("--pumped-ambient-pressure", options.pumped_ambient_pressure_Pa);
  if (done) done = temperature("--temperature", options.temperature_K);
  if (done) done = temperature("--vented-temperature", options.vented_temperature_K);
  if (done) done = temperature("--pumped-temperature", options.pumped_temperature_K);
  if (done) {
    done = within("--vented-at", options.vented_at_m, 0.0, fork.travel_m, "mm",
                  "it lies within the fork's travel,");
  }
  return done;
}

Result<void> check_against_fork(double pressure_gauge_Pa, int spacers, const protocol::Fork& fork) {
  if (pressure_gauge_Pa > fork.maximum_pressure_Pa) {
    return Error{
        Errc::input_out_of_range,
        fmt::format("--pressure {:.4g} psi ({:.4g} bar) is over the limit of the fork '{}', "
                    "{:.4g} psi ({:.4g} bar); never exceed it.",
                    protocol::in_unit(pressure_gauge_Pa, "psi"),
                    protocol::in_unit(pressure_gauge_Pa, "bar"), fork.name,
                    protocol::in_unit(fork.maximum_pressure_Pa, "psi"),
                    protocol::in_unit(fork.maximum_pressure_Pa, "bar"))};
  }
  const protocol::AirSpring& spring = fork.air_spring;
  if (!spring.positive_volume_m3 || !spring.spacer_volume_m3) return {};
  const double left_m3 = spring.positive_volume_m3->value - spacers * *spring.spacer_volume_m3;
  if (left_m3 > 0.0) return {};
  return Error{Errc::input_out_of_range,
               fmt::format("{} spacers of {:.4g} cm3 leave nothing of the {:.4g} cm3 in the fork "
                           "'{}'.",
                           spacers, protocol::in_unit(*spring.spacer_volume_m3, "cm3"),
                           protocol::in_unit(spring.positive_volume_m3->value, "cm3"), fork.name)};
}

// An air spring is nothing without its pressure, and a coil has none.
Result<void> check_said(const SettingOptions& options, const protocol::Fork& fork) {
  if (!protocol::has_air_spring(fork.kind)) {
    if (options.pressure_gauge_Pa.value_or(0.0) == 0.0 && options.spacers.value_or(0) == 0) {
      return {};
    }
    return Error{Errc::usage, fmt::format("'{}' has a coil: it takes neither --pressure nor "
                                          "--spacers; leave them out.",
                                          fork.name)};
  }
  const char* missing = !options.pressure_gauge_Pa ? "--pressure" : "--spacers";
  if (options.pressure_gauge_Pa && options.spacers) return {};
  return Error{Errc::usage,
               fmt::format("{} is required: '{}' has an air spring.", missing, fork.name)};
}

}  // namespace

void add_side_setting(CLI::App& app, char letter, std::optional<double>& pressure_gauge_Pa,
                      std::optional<int>& spacers, const std::string& used) {
  const std::string fork(1, static_cast<char>(std::toupper(static_cast<unsigned char>(letter))));
  add_quantity(app, fmt::format("--pressure-{}", letter), Dimension::pressure, pressure_gauge_Pa,
               fmt::format("Gauge pressure at which {} is {}", fork, used));
  app.add_option(fmt::format("--spacers-{}", letter), spacers, "Its volume spacers")
      ->type_name("N");
}

void add_mounting_option(CLI::App& app, std::optional<int>& mounting) {
  app.add_option("--mounting", mounting,
                 "Counts how often the fork was mounted anew, from 1: sweeps of one number are of "
                 "one mounting")
      ->check(CLI::Range(1, 9999))
      ->type_name("N");
}

void add_setting_options(CLI::App& app, SettingOptions& options) {
  add_quantity(app, "--pressure", Dimension::pressure, options.pressure_gauge_Pa,
               "Gauge reading of the positive chamber at full extension, after slow cycles (air "
               "springs; a coil has none)");
  app.add_option("--spacers", options.spacers,
                 "Volume spacers in the positive chamber (air springs; a coil has none)")
      ->check(CLI::Range(0, 99))
      ->type_name("N");
  add_circumstances(app, options, "");
}

void add_circumstances(CLI::App& app, SettingOptions& options, const std::string& not_said) {
  const auto unless = [&](const char* otherwise) {
    return fmt::format(" [{}]", not_said.empty() ? otherwise : not_said);
  };
  add_quantity(app, "--temperature", Dimension::temperature, options.temperature_K,
               "Of the fork at the pressure reading and in the test" + unless("20 degC"));
  CLI::Option& ambient =
      add_quantity(app, "--ambient-pressure", Dimension::pressure, options.ambient_pressure_Pa,
                   "Absolute pressure of the air around" + unless("101325 Pa"));
  CLI::Option& altitude = add_quantity(app, "--altitude", Dimension::length, options.altitude_m,
                                       "Instead: the standard atmosphere at this altitude");
  altitude.type_name("\"N m\"");
  altitude.excludes(&ambient);
  add_quantity(app, "--vented-at", Dimension::length, options.vented_at_m,
               "Travel at which the lower legs were last vented" + unless("0 mm"));
  add_quantity(app, "--vented-pressure", Dimension::pressure, options.vented_pressure_Pa,
               "Absolute pressure they were vented to" + unless("the ambient pressure"));
  add_quantity(app, "--vented-temperature", Dimension::temperature, options.vented_temperature_K,
               "Their temperature then" + unless("the temperature of the test"));
}

void add_pumped_options(CLI::App& app, SettingOptions& options) {
  add_quantity(app, "--pumped-temperature", Dimension::temperature, options.pumped_temperature_K,
               "Where the fork was pumped elsewhere: its temperature at the pressure reading");
  add_quantity(app, "--pumped-ambient-pressure", Dimension::pressure,
               options.pumped_ambient_pressure_Pa,
               "Where the fork was pumped elsewhere: the absolute pressure of the air there");
}

Result<std::optional<double>> ambient_pressure_Pa(const SettingOptions& options) {
  if (!options.altitude_m) return options.ambient_pressure_Pa;
  const Result<void> known = within("--altitude", options.altitude_m, kAltitudeMin_m,
                                    kAltitudeMax_m, "m", "the standard atmosphere is known");
  if (!known) return known.error();
  return std::optional<double>(protocol::standard_atmosphere_Pa(*options.altitude_m));
}

Result<Setting> make_setting(const SettingOptions& options, const protocol::Fork& fork) {
  if (const Result<void> said = check_said(options, fork); !said) return said.error();
  const Result<std::optional<double>> ambient_Pa = ambient_pressure_Pa(options);
  if (!ambient_Pa) return ambient_Pa.error();
  Setting setting;
  setting.pressure_gauge_Pa = options.pressure_gauge_Pa.value_or(0.0);
  setting.spacers = options.spacers.value_or(0);
  if (setting.pressure_gauge_Pa < 0.0 || setting.spacers < 0) {
    return Error{Errc::usage, "neither --pressure nor --spacers can be less than zero."};
  }
  Result<void> sound = check_ranges(options, fork);
  const bool air = protocol::has_air_spring(fork.kind);
  if (sound && air) sound = check_against_fork(setting.pressure_gauge_Pa, setting.spacers, fork);
  if (!sound) return sound.error();
  setting.temperature_K = options.temperature_K.value_or(kRoom_K);
  setting.ambient_pressure_Pa = ambient_Pa->value_or(protocol::kStandardAtmosphere_Pa);
  setting.pumped_temperature_K = options.pumped_temperature_K;
  setting.pumped_ambient_pressure_Pa = options.pumped_ambient_pressure_Pa;
  setting.vent.travel_m = options.vented_at_m.value_or(0.0);
  setting.vent.pressure_Pa = options.vented_pressure_Pa.value_or(setting.ambient_pressure_Pa);
  setting.vent.temperature_K = options.vented_temperature_K.value_or(setting.temperature_K);
  return setting;
}

}  // namespace controller::cli
