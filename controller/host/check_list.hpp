// What must be true before a fork is swept, asked before the rig is even connected.
#pragma once

#include <string>
#include <vector>

#include "controller/host/bench_operator.hpp"
#include "controller/host/stop_source.hpp"
#include "protocol/record/sweep_record.hpp"

namespace controller::host {

// The items for this fork and setting, with their values in them.
std::vector<std::string> check_list(const protocol::Fork& fork, const protocol::Setting& setting);

// Proof that the list was gone through; a sweep does not begin without.
class CheckedOff {
 private:
  CheckedOff() = default;
  friend protocol::Result<CheckedOff> go_through(const std::vector<std::string>&, Operator&,
                                                 StopSource&);
};

// Item by item. ERRORS: stopped_by_operator where one is refused, or at a stop.
protocol::Result<CheckedOff> go_through(const std::vector<std::string>& items, Operator& person,
                                        StopSource& stop);

}  // namespace controller::host
