// When a sweep knows enough: a quantity of the fit, and how small its total standard uncertainty
// has to be.
#pragma once

#include <string>

#include "fitting/model/fitted_model.hpp"
#include "protocol/result.hpp"

namespace controller::cli {

struct Enough {
  std::string name;    // as the fit prints it
  double value = 0.0;  // above zero
  std::string unit;    // "%" of the quantity's own value, or the unit it is printed in
};

// Reads "positive_volume 5 %" or "friction_mid_travel 2 N". ERRORS: usage, with the list of what
// a fit of a sweep can name.
protocol::Result<Enough> parse_enough(const std::string& text);

// Null where the model is not usable or does not tell the quantity.
const fitting::FittedParameter* told(const fitting::FittedModel& model, std::string_view name);

bool is_reached(const Enough& enough, const fitting::FittedModel& model);

// "positive_volume is known to 1.8 %; wanted: 2 %." Where more cycles would not help, that too:
// what is in doubt about the instruments stays in doubt.
std::string how_well_known(const Enough& enough, const fitting::FittedModel& model);

}  // namespace controller::cli
