// A fitted fork's setting as the command line says it: shared by predict and compare.
#pragma once

#include "controller/cli/setting_options.hpp"
#include "fitting/model/predict.hpp"

namespace controller::cli {

// What is not said is as in the fitted sweeps. ERRORS: those of make_setting.
protocol::Result<fitting::PredictionRequest> model_setting(const fitting::FittedModel& model,
                                                           SettingOptions said);

}  // namespace controller::cli
