// `springwright init DIR`: a workshop folder, with a bench file to fill in and an example of a fork
// file.
#include <fmt/ostream.h>

#include <CLI/CLI.hpp>
#include <filesystem>

#include "controller/cli/commands.hpp"
#include "controller/cli/options.hpp"
#include "protocol/record/bench_file.hpp"
#include "protocol/record/file_system.hpp"
#include "protocol/record/json_fields.hpp"

namespace controller::cli {
namespace {

using protocol::Errc;
using protocol::Error;
using protocol::Result;
namespace fs = std::filesystem;

struct InitOptions {
  std::string folder;
  bool json = false;
};

constexpr const char* kFolders[] = {"forks", "calibrations", "sweeps", "models", "reports"};

constexpr const char* kExampleFork =
    R"(# A fork, as measured with a caliper. Copy this file for each fork and fill it in.
# A tolerance makes a prior of a value: "205 cm3 +/- 5 cm3".

name = "Example 160"
travel = "160 mm"
maximum_pressure = "150 psi"       # the fork's own limit, printed on it or in its manual
kind = "air"                       # or "air_shock"; "coil" and "coil_shock" have a [coil_spring]
# damper_rod_diameter = "10 mm"
# bumper = "12 mm"                 # length of the bottom-out bumper

[air_spring]
piston_diameter = "31.0 mm"
shaft_diameter = "8.0 mm"
positive_volume = "205 cm3"        # full extension, no spacers; only where a fit starts
negative_volume = "33 cm3"
transfer_travel = "2.5 mm"
spacer_volume = "7.0 cm3"          # each

[lower_legs]
stanchion_diameter = "34 mm"       # outside
volume = "390 cm3"                 # air in both legs at full extension

# [sheet]                          # what a report says of it besides
# mass = "1980 g"                  # as weighed
# price = "1100 EUR"
# remarks = "test sample, seals run in"
)";

// Records are kept byte for byte, whatever git thinks of line ends.
constexpr const char* kGitAttributes = "*.csv -text\n";

Result<void> run_init(const InitOptions& options, Console& console) {
  protocol::DiskFileSystem files;
  const fs::path folder = options.folder;
  const fs::path bench = folder / "bench.toml";
  if (files.exists(bench)) {
    return Error{
        Errc::output_exists,
        fmt::format("'{}' is a workshop folder already; nothing was changed.", folder.string())};
  }
  Result<void> done = files.create_folder(folder);
  for (const char* name : kFolders) {
    if (done) done = files.create_folder(folder / name);
  }
  const std::pair<fs::path, const char*> texts[] = {
      {folder / "forks" / "example.toml", kExampleFork},
      {folder / ".gitattributes", kGitAttributes}};
  for (const auto& [path, text] : texts) {
    if (done && !files.exists(path)) done = protocol::write_new_file(files, path, text);
  }
  // The bench file comes last: with it the folder is one, without it init may be run again.
  if (done) done = protocol::write_new_file(files, bench, protocol::new_bench_text());
  if (!done) return done.error();
  if (options.json) {
    console.out << protocol::json_text({{"folder", folder.string()}, {"bench", bench.string()}});
  } else {
    fmt::print(console.out,
               "Made the workshop folder '{}'. Next: describe the rig in '{}' and your forks in "
               "'{}'.\n",
               folder.string(), bench.string(), (folder / "forks").string());
  }
  return {};
}

}  // namespace

void add_init(Commands& commands) {
  auto [app, options] = commands.add<InitOptions>(
      "init", "Make a workshop folder for forks, sweeps and models.", run_init);
  app.add_option("folder", options.folder, "The folder to make")->required()->type_name("DIR");
  add_json(app, options.json);
  add_examples(app, {"springwright init workshop"});
}

}  // namespace controller::cli
