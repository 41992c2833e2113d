// `springwright predict`: a fitted fork's curves at a setting that was never swept.
#include <fmt/ostream.h>

#include <CLI/CLI.hpp>
#include <string>

#include "controller/cli/answers/model_file.hpp"
#include "controller/cli/answers/model_setting.hpp"
#include "controller/cli/commands.hpp"
#include "controller/cli/options.hpp"
#include "fitting/model/loop_split.hpp"
#include "fitting/model/predict.hpp"
#include "protocol/record/json_fields.hpp"

namespace controller::cli {
namespace {

using fitting::FittedModel;
using fitting::Prediction;
using fitting::PredictionRequest;
using protocol::Dimension;
using protocol::Json;
using protocol::Result;

struct PredictOptions {
  std::string model_file;
  SettingOptions setting;
  std::optional<double> speed_m_s;
  double step_m = 5e-4;
  bool json = false;
};

Result<PredictionRequest> make_request(const PredictOptions& options, const FittedModel& model) {
  const Result<PredictionRequest> setting = model_setting(model, options.setting);
  if (!setting) return setting.error();
  PredictionRequest request = *setting;
  request.step_m = options.step_m;
  if (options.speed_m_s) request.speed_m_s = *options.speed_m_s;
  return request;
}

Json split_json(const fitting::LoopSplit& split) {
  Json out{{"half_loop_N", split.half_loop_N},
           {"loss_J", split.loss_J},
           {"told_apart", split.told_apart}};
  Json parts = Json::array();
  for (const fitting::LoopPart& part : split.parts) {
    parts.push_back(Json{{"name", part.name}, {"force_N", part.force_N}, {"loss_J", part.loss_J}});
  }
  out["parts"] = parts;
  return out;
}

Json prediction_json(const Prediction& prediction, const PredictionRequest& request,
                     const fitting::LoopSplit& split) {
  std::vector<double> travel_mm;
  for (double travel_m : prediction.travel_m) travel_mm.push_back(travel_m * 1e3);
  Json elements = Json::array();
  for (const fitting::ElementForce& element : prediction.elements) {
    elements.push_back(Json{{"name", element.name}, {"force_N", element.force_N}});
  }
  return Json{{"travel_mm", travel_mm},
              {"spring_N", prediction.spring_N},
              {"compression_N", prediction.compression_N},
              {"rebound_N", prediction.rebound_N},
              {"spring_standard_uncertainty_N", prediction.spring_standard_uncertainty_N},
              {"midline_N", prediction.midline_N},
              {"midline_standard_uncertainty_N", prediction.midline_standard_uncertainty_N},
              {"friction_N", prediction.friction_N},
              {"elements", elements},
              {"loop", split_json(split)},
              {"speed_mm_s", request.speed_m_s * 1e3},
              {"warnings", prediction.warnings}};
}

void print_table(const Prediction& prediction, const PredictionRequest& request, Console& console) {
  fmt::print(console.out,
             "Slow spring with its standard uncertainty, and the strokes of a settled cycle at "
             "{:.1f} mm/s:\n",
             request.speed_m_s * 1e3);
  fmt::print(console.out, "{:>10} {:>10} {:>8} {:>14} {:>10}\n", "travel_mm", "spring_N", "+-_N",
             "compression_N", "rebound_N");
  constexpr double kEvery_m = 0.01;
  double next_m = 0.0;
  for (std::size_t i = 0; i < prediction.travel_m.size(); ++i) {
    const bool last = i + 1 == prediction.travel_m.size();
    if (prediction.travel_m[i] < next_m - 1e-9 && !last) continue;
    next_m += kEvery_m;
    fmt::print(console.out, "{:>10.1f} {:>10.1f} {:>8.1f} {:>14.1f} {:>10.1f}\n",
               prediction.travel_m[i] * 1e3, prediction.spring_N[i],
               prediction.spring_standard_uncertainty_N[i], prediction.compression_N[i],
               prediction.rebound_N[i]);
  }
}

Result<void> run_predict(const PredictOptions& options, Console& console) {
  const Result<FittedModel> model = load_model(options.model_file);
  if (!model) return model.error();
  const Result<PredictionRequest> request = make_request(options, *model);
  if (!request) return request.error();
  const Result<Prediction> prediction = fitting::predict(*model, *request);
  if (!prediction) return prediction.error();
  const Result<fitting::LoopSplit> split = fitting::split_loop(*model, *request);
  if (!split) return split.error();
  if (options.json) {
    console.out << protocol::json_text(prediction_json(*prediction, *request, *split));
    return {};
  }
  print_table(*prediction, *request, console);
  fmt::print(console.out, "{}\n", fitting::split_sentence(*split));
  for (const std::string& warning : prediction->warnings) {
    fmt::print(console.err, "Note: {}\n", warning);
  }
  return {};
}

}  // namespace

void add_predict(Commands& commands) {
  auto [app, options] = commands.add<PredictOptions>(
      "predict", "Foretell a fitted fork's curves at another setting.", run_predict);
  app.add_option("model", options.model_file, "A model that `springwright fit` wrote")
      ->required()
      ->type_name("MODEL.json");
  add_setting_options(app, options.setting);
  add_quantity(app, "--speed", Dimension::speed, options.speed_m_s,
               "Of the cycle [that of the fitted sweeps]");
  add_quantity(app, "--step", Dimension::length, options.step_m, "Between travels [0.5 mm]");
  add_json(app, options.json);
  add_examples(app, {"springwright predict models/larch.json --pressure \"81 psi\" --spacers 1",
                     "springwright predict models/larch.json --pressure \"81 psi\" --spacers 1 "
                     "--altitude \"2000 m\" --json"});
}

}  // namespace controller::cli
