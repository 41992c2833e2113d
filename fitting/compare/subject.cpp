#include "fitting/compare/subject.hpp"

namespace fitting {

ModelSubject model_subject(const FittedModel& model, double pressure_gauge_Pa, int spacers) {
  ModelSubject subject;
  subject.model = model;
  subject.setting = like_fitted(model, pressure_gauge_Pa, spacers);
  // Each function keeps a model of its own, so that a subject may be copied and outlive this one.
  subject.predict = [model](const PredictionRequest& request) { return predict(model, request); };
  subject.slow_spring_N = [model](const PredictionRequest& request,
                                  const std::vector<double>& travel_m) {
    return slow_spring_N(model, request, travel_m);
  };
  return subject;
}

protocol::Result<PreparedSubject> prepare(const Subject& subject) {
  ENSURE(subject.record.has_value() != subject.model.has_value());
  if (subject.record) return PreparedSubject{subject, std::nullopt};
  protocol::Result<Prediction> prediction = subject.model->predict(subject.model->setting);
  if (!prediction) return protocol::at(subject.name, prediction.error());
  return PreparedSubject{subject, *std::move(prediction)};
}

}  // namespace fitting
