#include "fitting/model/state.hpp"

namespace fitting {

Circumstances make_circumstances(const protocol::Setting& setting) {
  Circumstances at;
  at.pressure_gauge_Pa = setting.pressure_gauge_Pa;
  at.spacers = setting.spacers;
  at.temperature_K = setting.temperature_K;
  at.ambient_Pa = setting.ambient_pressure_Pa;
  at.pumped_temperature_K = setting.pumped_temperature_K.value_or(setting.temperature_K);
  at.pumped_ambient_Pa = setting.pumped_ambient_pressure_Pa.value_or(setting.ambient_pressure_Pa);
  at.vent = setting.vent;
  return at;
}

}  // namespace fitting
