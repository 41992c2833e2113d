// What is compared: a record as it was tested, or a fitted model at a setting.
#pragma once

#include <functional>
#include <optional>
#include <string>
#include <vector>

#include "fitting/curve/curve_json.hpp"
#include "fitting/model/predict.hpp"

namespace fitting {

// A fitted model that can be asked. The two questions are functions, so that whoever compares does
// not care which law answers.
struct ModelSubject {
  FittedModel model;
  PredictionRequest setting;  // where it is compared
  std::function<protocol::Result<Prediction>(const PredictionRequest&)> predict;
  std::function<protocol::Result<std::vector<double>>(const PredictionRequest&,
                                                      const std::vector<double>& travel_m)>
      slow_spring_N;
};

// A model at a pressure and spacer count, otherwise as its fitted sweeps were.
ModelSubject model_subject(const FittedModel& model, double pressure_gauge_Pa, int spacers);

// Exactly one of record and model is there.
struct Subject {
  std::string name;
  std::optional<CurveAnswer> record;
  std::optional<ModelSubject> model;
  // Sweeps of the same fork and setting, mounted anew in between: of a record further ones, which
  // are averaged with it; of a model any, which tell the scatter.
  std::vector<CurveAnswer> again;

  const protocol::Fork& fork() const { return record ? record->metadata.fork : model->model.fork; }
};

// A subject with its curve at hand. A prediction takes a while, so it is made once.
struct PreparedSubject {
  Subject subject;
  std::optional<Prediction> prediction;  // of a model, at its setting
};
// ERRORS: of the prediction. REQUIRES: exactly one of record and model.
protocol::Result<PreparedSubject> prepare(const Subject& subject);

}  // namespace fitting
