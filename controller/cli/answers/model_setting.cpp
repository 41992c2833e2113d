#include "controller/cli/answers/model_setting.hpp"

namespace controller::cli {

protocol::Result<fitting::PredictionRequest> model_setting(const fitting::FittedModel& model,
                                                           SettingOptions said) {
  if (!said.temperature_K) said.temperature_K = model.context.temperature_K;
  if (!said.ambient_pressure_Pa && !said.altitude_m) {
    said.ambient_pressure_Pa = model.context.ambient_pressure_Pa;
  }
  if (!said.vented_at_m) said.vented_at_m = model.context.vent.travel_m;
  if (!said.vented_pressure_Pa) said.vented_pressure_Pa = model.context.vent.pressure_Pa;
  if (!said.vented_temperature_K) said.vented_temperature_K = model.context.vent.temperature_K;
  const protocol::Result<protocol::Setting> setting = make_setting(said, model.fork);
  if (!setting) return setting.error();
  fitting::PredictionRequest request =
      fitting::like_fitted(model, setting->pressure_gauge_Pa, setting->spacers);
  request.temperature_K = setting->temperature_K;
  request.ambient_pressure_Pa = setting->ambient_pressure_Pa;
  request.vent = setting->vent;
  return request;
}

}  // namespace controller::cli
