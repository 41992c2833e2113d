// What is asked of a model, checked before anything is computed from it.
#pragma once

#include "fitting/model/predict.hpp"
#include "fitting/model/state.hpp"

namespace fitting {

Circumstances make_circumstances(const PredictionRequest& request);

// The request's own end, or the largest swept travel.
double largest_travel_m(const FittedModel& model, const PredictionRequest& request);

// 0, step, 2 step ... up to the largest travel.
std::vector<double> make_grid(double step_m, double largest_m);

// ERRORS: fit_not_usable, input_out_of_range.
protocol::Result<void> check_request(const FittedModel& model, const PredictionRequest& request,
                                     double largest_m);

}  // namespace fitting
