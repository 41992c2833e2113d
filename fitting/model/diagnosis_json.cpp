#include "fitting/model/diagnosis_json.hpp"

#include <cmath>

namespace fitting {
namespace {

using protocol::Json;
using protocol::JsonFields;

// Of the total covariance of the free parameters.
Json correlation_to_json(const FittedModel& model) {
  Eigen::MatrixXd total = model.own_covariance;
  for (const SharedDoubt& doubt : model.shared) total += doubt.shift * doubt.shift.transpose();
  Json rows = Json::array();
  for (Eigen::Index i = 0; i < total.rows(); ++i) {
    Json row = Json::array();
    for (Eigen::Index j = 0; j < total.cols(); ++j) {
      const double scale = std::sqrt(total(i, i) * total(j, j));
      row.push_back(i == j ? 1.0 : (scale > 0.0 ? total(i, j) / scale : 0.0));
    }
    rows.push_back(std::move(row));
  }
  return rows;
}

Json misfit_to_json(const Misfit& misfit) {
  Json out{{"from_mm", 1e3 * misfit.from_m},      {"to_mm", 1e3 * misfit.to_m},
           {"direction", misfit.direction},       {"size_N", misfit.size_N},
           {"significance", misfit.significance}, {"text", misfit.text}};
  if (!misfit.sweep.empty()) out["sweep"] = misfit.sweep;
  if (misfit.stroke >= 0) out["stroke"] = misfit.stroke;
  return out;
}

Misfit misfit_from_json(const Json& json, const std::string& place, JsonFields& parent) {
  JsonFields fields(json, place);
  Misfit out;
  out.from_m = 1e-3 * fields.number("from_mm");
  out.to_m = 1e-3 * fields.number("to_mm");
  out.direction = static_cast<int>(fields.integer("direction", -1, 1));
  out.size_N = fields.number("size_N");
  out.significance = fields.number("significance");
  out.text = fields.text("text");
  out.sweep = fields.text_or_empty("sweep");
  if (fields.maybe("stroke") != nullptr) {
    out.stroke = static_cast<int>(fields.integer("stroke", 0, 1'000'000));
  }
  if (const auto done = fields.finish(); !done) parent.fail(done.error());
  return out;
}

Json bootstrap_to_json(const BootstrapResult& drawn) {
  Json out{{"replicates", drawn.replicates}, {"strokes", drawn.strokes}};
  if (!drawn.refused.empty()) out["refused"] = drawn.refused;
  if (drawn.refused.empty()) out["standard_uncertainty"] = drawn.standard_uncertainty;
  return out;
}

void read_bootstrap(const Json& json, const std::string& place, FittedModel& model,
                    JsonFields& parent) {
  JsonFields fields(json, place);
  BootstrapResult out;
  out.replicates = static_cast<int>(fields.integer("replicates", 0, 1'000'000'000));
  out.strokes = static_cast<int>(fields.integer("strokes", 0, 1'000'000'000));
  out.refused = fields.text_or_empty("refused");
  if (out.refused.empty()) out.standard_uncertainty = fields.numbers("standard_uncertainty");
  if (const auto done = fields.finish(); !done) parent.fail(done.error());
  model.bootstrap = std::move(out);
}

}  // namespace

Json diagnosis_to_json(const FittedModel& model) {
  Json misfits = Json::array();
  for (const Misfit& misfit : model.misfits) misfits.push_back(misfit_to_json(misfit));
  Json out{{"spikes", model.spikes},
           {"singular_values",
            std::vector<double>(model.singular_values.begin(), model.singular_values.end())},
           {"correlation", correlation_to_json(model)},
           {"misfits", misfits}};
  if (model.bootstrap) out["bootstrap"] = bootstrap_to_json(*model.bootstrap);
  return out;
}

void read_diagnosis(const Json* json, FittedModel& model, JsonFields& parent) {
  if (json == nullptr) return;
  const std::string place = parent.place_of("diagnosis");
  JsonFields fields(*json, place);
  model.spikes = fields.count("spikes");
  const std::vector<double> values = fields.numbers("singular_values");
  model.singular_values =
      Eigen::Map<const Eigen::VectorXd>(values.data(), static_cast<Eigen::Index>(values.size()));
  fields.any("correlation");  // follows from the covariances
  const Json& misfits = fields.any("misfits");
  for (const Json& entry : misfits.is_array() ? misfits : Json::array()) {
    model.misfits.push_back(misfit_from_json(entry, place, fields));
  }
  if (const Json* drawn = fields.maybe("bootstrap")) {
    read_bootstrap(*drawn, place, model, fields);
  }
  if (const auto done = fields.finish(); !done) parent.fail(done.error());
}

}  // namespace fitting
