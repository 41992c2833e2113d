// What the page asks of the desk, as words of the command line. Every file is one of the workshop's
// own folders, every other value is checked by the command itself.
#pragma once

#include <filesystem>

#include "controller/cli/page/panel_desk.hpp"

namespace controller::cli {

// A file of the workshop by its name within a folder of it; no way leads out. ERRORS: usage.
protocol::Result<std::filesystem::path> file_in(const std::filesystem::path& workshop,
                                                const std::string& folder, const std::string& name);

// Where the page keeps what it makes; made where it is missing, since a page may be opened
// anywhere.
std::filesystem::path folder_for(const std::filesystem::path& workshop, const std::string& folder);

// "predict" {ticket, model, pressure, spacers, ...}, "compare" {ticket, a, b, ...}: questions.
// "fit" {ticket, records, name}, "report" {ticket, a, b, records_a, records_b, name, ...}: these
// write. ERRORS: usage, input_malformed.
protocol::Result<DeskWork> desk_work(const std::filesystem::path& workshop, const std::string& what,
                                     const protocol::Json& how);

// Commands that converse: "calibrate_force", "calibrate_travel", "calibrate_frame" {loads, name,
// series, weight_class, operator, standard, resume}, "calibrate_check" {certificate, load,
// operator}. `rig`: empty as the bench says. ERRORS: as above.
protocol::Result<std::vector<std::string>> talk_words(const std::filesystem::path& workshop,
                                                      const std::string& what,
                                                      const std::string& rig,
                                                      const protocol::Json& how);

}  // namespace controller::cli
