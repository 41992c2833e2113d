// What fork B will show against A once it is set as told, so that a sweep can hold the advice to
// it.
#pragma once

#include "fitting/compare/difference.hpp"
#include "fitting/compare/nearest_setting.hpp"

namespace fitting {

// Fills in what is promised and its cause. REQUIRES: both are models. ERRORS: of the prediction.
protocol::Result<void> make_promise(const PreparedSubject& a, const Subject& b,
                                    const DifferenceOptions& options, NearestSetting& nearest);

}  // namespace fitting
