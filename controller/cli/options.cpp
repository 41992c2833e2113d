#include "controller/cli/options.hpp"

#include <CLI/CLI.hpp>

namespace controller::cli {
namespace {

template <class Target>
CLI::Option& add_quantity_option(CLI::App& app, const std::string& name,
                                 protocol::Dimension dimension, Target& target,
                                 const std::string& help) {
  const auto read = [name, dimension, &target](const std::string& text) {
    const protocol::Result<double> value = protocol::parse_quantity(text, dimension);
    if (!value) throw CLI::ValidationError(name, value.error().message);
    target = *value;
  };
  const std::string first_unit =
      protocol::unit_list(dimension).substr(0, protocol::unit_list(dimension).find(','));
  return *app.add_option_function<std::string>(name, read, help)
              ->type_name("\"N " + first_unit + "\"");
}

}  // namespace

CLI::Option& add_quantity(CLI::App& app, const std::string& name, protocol::Dimension dimension,
                          double& target, const std::string& help) {
  return add_quantity_option(app, name, dimension, target, help);
}

CLI::Option& add_quantity(CLI::App& app, const std::string& name, protocol::Dimension dimension,
                          std::optional<double>& target, const std::string& help) {
  return add_quantity_option(app, name, dimension, target, help);
}

CLI::Option& add_mass_or_force(CLI::App& app, const std::string& name, MassOrForce& target,
                               const std::string& help) {
  return *app.add_option_function<std::string>(
      name,
      [&target, name](const std::string& text) {
        target.words = text;
        const protocol::Result<double> mass =
            protocol::parse_quantity(text, protocol::Dimension::mass);
        if (mass) {
          target.mass_kg = *mass;
          return;
        }
        const protocol::Result<double> force =
            protocol::parse_quantity(text, protocol::Dimension::force);
        if (!force) throw CLI::ValidationError(name, force.error().message);
        target.force_N = *force;
      },
      help);
}

void add_json(CLI::App& app, bool& json) {
  app.add_flag("--json", json, "Answer as JSON");
}

void add_dry_run(CLI::App& app, bool& dry_run) {
  app.add_flag("--dry-run", dry_run,
               "Say what would be done: no port is opened, nothing moves, nothing is written");
}

void add_examples(CLI::App& app, const std::vector<std::string>& lines) {
  std::string text = "Examples:";
  for (const std::string& line : lines) text += "\n  " + line;
  app.footer(text);
}

}  // namespace controller::cli
