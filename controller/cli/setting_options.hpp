// The options that describe a test's setting, shared by import, sweep and predict: pressure,
// spacers, temperature, air outside, where the lower legs were vented.
#pragma once

#include <optional>
#include <string>

#include "protocol/record/sweep_record.hpp"

namespace CLI {
class App;
}

namespace controller::cli {

// All SI; empty: not said.
struct SettingOptions {
  std::optional<double> pressure_gauge_Pa;
  std::optional<int> spacers;
  std::optional<double> temperature_K;
  std::optional<double> ambient_pressure_Pa;
  std::optional<double> altitude_m;
  std::optional<double> vented_at_m;
  std::optional<double> vented_pressure_Pa;
  std::optional<double> vented_temperature_K;
  std::optional<double> pumped_temperature_K;
  std::optional<double> pumped_ambient_pressure_Pa;
};

// --pressure-a and --spacers-a, or with another letter, of one of two forks at which it is `used`.
void add_side_setting(CLI::App& app, char letter, std::optional<double>& pressure_gauge_Pa,
                      std::optional<int>& spacers, const std::string& used);

// --mounting: which mounting of the fork a sweep is of.
void add_mounting_option(CLI::App& app, std::optional<int>& mounting);

// --pressure and --spacers (of an air spring both are required), --temperature, --ambient-pressure
// | --altitude,
// --vented-at, --vented-pressure, --vented-temperature.
void add_setting_options(CLI::App& app, SettingOptions& options);

// The part of it that is not the fork's own: --temperature to --vented-temperature.
// not_said: what counts where one of them is not said; empty: the bench's defaults.
void add_circumstances(CLI::App& app, SettingOptions& options, const std::string& not_said);

// --pumped-temperature, --pumped-ambient-pressure, for a fork that was pumped elsewhere.
void add_pumped_options(CLI::App& app, SettingOptions& options);

// Ambient pressure as said, by --altitude, or empty. ERRORS: usage outside what air has on Earth.
protocol::Result<std::optional<double>> ambient_pressure_Pa(const SettingOptions& options);

// The setting with every default filled in: 20 degC, the standard atmosphere, vented at 0 mm to the
// ambient pressure and at the temperature of the test. ERRORS: input_out_of_range for a pressure
// over the fork's limit or for spacers that leave no volume, usage for values that cannot be, for
// an air spring without pressure or spacers and for a coil with them.
protocol::Result<protocol::Setting> make_setting(const SettingOptions& options,
                                                 const protocol::Fork& fork);

}  // namespace controller::cli
