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
  // Of a coil.
  bool added_rate = false;
  bool top_out = false;

  // The usual elements: a gas law is a form.
  LawForm(GasLaw law) : gas(law) {}  // NOLINT(google-explicit-constructor)
};

// What the form has beside the usual, in words; empty: nothing.
inline std::string elements_of(const LawForm& form) {
  std::string out;
  const auto add = [&](bool has, const char* words) {
    if (has) out += (out.empty() ? "" : ", ") + std::string(words);
  };
  add(form.static_excess, "static excess of friction");
  add(form.damper, "open damper");
  add(form.added_rate, "second rate");
  add(form.top_out, "top-out spring");
  return out;
}

}  // namespace fitting
