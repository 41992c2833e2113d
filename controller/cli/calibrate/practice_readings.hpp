// Readings beside a standard, taken on a virtual rig as an operator would on a real one: loads hung
// on the cell, a dial indicator on the carriage, a rigid block in the fork's place.
//
// Each function opens the rig, goes through its loads and returns the CSV text that
// `springwright calibrate` reads. For the demonstration, and to practise with.
#pragma once

#include <string>

#include "controller/cli/bench/bench_setup.hpp"

namespace controller::cli {

// Three series up and down to 2000 N, beside a reference transducer.
protocol::Result<std::string> practise_force(const BenchSetup& setup);
// Three series up and down to 150 mm, beside a dial indicator.
protocol::Result<std::string> practise_travel(const BenchSetup& setup);
// Two series up to 1500 N against the block. REQUIRES: certificates of force and travel in the
// setup.
protocol::Result<std::string> practise_frame(const BenchSetup& setup);

}  // namespace controller::cli
