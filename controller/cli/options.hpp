// Options as every command words them: quantities with units, --json, examples.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "protocol/units.hpp"

namespace CLI {
class App;
class Option;
}  // namespace CLI

namespace controller::cli {

// An option such as --pressure "81 psi", read into SI; a malformed value is a usage error.
CLI::Option& add_quantity(CLI::App& app, const std::string& name, protocol::Dimension dimension,
                          double& target, const std::string& help);
CLI::Option& add_quantity(CLI::App& app, const std::string& name, protocol::Dimension dimension,
                          std::optional<double>& target, const std::string& help);

// A load as the person knows it: one of the two.
struct MassOrForce {
  std::optional<double> mass_kg;
  std::optional<double> force_N;
  std::string words;  // as it was said
};

// An option such as --load "20 kg" or "200 N"; a malformed value is a usage error.
CLI::Option& add_mass_or_force(CLI::App& app, const std::string& name, MassOrForce& target,
                               const std::string& help);

// --json, for commands that answer.
void add_json(CLI::App& app, bool& json);

// --dry-run, for commands that move the rig.
void add_dry_run(CLI::App& app, bool& dry_run);

// Whole command lines, shown at the end of --help.
void add_examples(CLI::App& app, const std::vector<std::string>& lines);

}  // namespace controller::cli
