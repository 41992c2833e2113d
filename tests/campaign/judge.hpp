// Whether a cell ended as its fault must end there.
#pragma once

#include <string>
#include <vector>

#include "tests/campaign/cell.hpp"

namespace tests::campaign {

// RETURNS what is not as it should be; empty: all is well.
std::vector<std::string> judge(const CellRequest& request, const CellResult& result);

// "5", "0", "killed", "-" where the phase was over before the fault struck.
std::string ending_word(const CellResult& result);

}  // namespace tests::campaign
