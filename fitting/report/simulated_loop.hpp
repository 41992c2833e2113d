// A fitted model followed along a record's very path, row by row.
#pragma once

#include <vector>

#include "fitting/model/fitted_model.hpp"

namespace fitting {

// The force that the model gives for each row: with the heat of the gas and the friction as the
// record's own history left them, the record's setting, and the error of its fill that the fit
// found, if it was among the fitted ones. ERRORS: record_unusable for a path that never moves,
// input_out_of_range where the model has no volume on it.
protocol::Result<std::vector<double>> simulated_force_N(const FittedModel& model,
                                                        const protocol::SweepRecord& record);

}  // namespace fitting
