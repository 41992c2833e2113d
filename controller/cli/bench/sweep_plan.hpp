// From what the user said about a sweep to the plan that the host carries out: shared by the
// command and the page.
#pragma once

#include <filesystem>

#include "controller/cli/bench/bench_setup.hpp"
#include "controller/cli/bench/sweep_options.hpp"
#include "controller/host/sweep.hpp"

namespace controller::cli {

// Where records go: the workshop's, or the present folder.
std::filesystem::path record_folder(const BenchSetup& setup);

// Everything but the program and the record's path.
host::SweepPlan make_sweep_plan(const SweepOptions& options, const BenchSetup& setup,
                                const protocol::Fork& fork, const protocol::Setting& setting);

// What a fit must know of a record that is still being written.
protocol::Metadata metadata_for_fit(const host::SweepPlan& plan, const BenchSetup& setup);
// Those of conditioning among them.
int strokes_of(const host::SweepPlan& plan);

// A real press with an unknown scale could not be limited in newtons. ERRORS: calibration_unusable.
protocol::Result<void> check_scale(const BenchSetup& setup);

}  // namespace controller::cli
