// The figure of the curve command: each record's steady loop, and its midline.
#pragma once

#include <vector>

#include "fitting/curve/curve_json.hpp"
#include "fitting/report/figure.hpp"

namespace controller::cli {

// REQUIRES: at least one answer. At most five records have a tone of their own; the rest repeat.
fitting::Figure loop_figure(const std::vector<fitting::CurveAnswer>& answers);

}  // namespace controller::cli
