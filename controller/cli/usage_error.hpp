// What the user hears when the command line itself is wrong; always exit code 2.
#pragma once

#include <ostream>
#include <string>

namespace CLI {
class App;
class ParseError;
}  // namespace CLI

namespace controller::cli {

// "springwright calibrate force" of the deepest command.
std::string command_words(const CLI::App& app);

// Prints help or the version, or says what is wrong and what is meant perhaps. Returns the exit
// code.
int report_parse_error(CLI::App& root, const CLI::ParseError& error, std::ostream& out,
                       std::ostream& err);

}  // namespace controller::cli
