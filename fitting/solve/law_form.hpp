// One of the forms of the force law that a fit may choose between.
#pragma once

#include <string>

#include "fitting/model/fitted_model.hpp"

namespace fitting {

struct LawForm {
  GasLaw gas = GasLaw::wall_coefficient;
  // Only sweeps at different speeds tell these from plain friction.
  bool static_excess = false;
  bool damper = false;

  // The usual elements: a gas law is a form.
  LawForm(GasLaw law) : gas(law) {}  // NOLINT(google-explicit-constructor)
};

// What the form has beside the usual, in words; empty: nothing.
inline std::string elements_of(const LawForm& form) {
  if (form.static_excess && form.damper) return "static excess of friction, open damper";
  if (form.static_excess) return "static excess of friction";
  return form.damper ? "open damper" : "";
}

}  // namespace fitting
