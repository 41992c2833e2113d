#include "fitting/model/model_json.hpp"

#include <array>
#include <cmath>

#include "fitting/model/diagnosis_json.hpp"
#include "protocol/record/fork_json.hpp"

namespace fitting {
namespace {

using protocol::Errc;
using protocol::Json;
using protocol::JsonFields;
using protocol::Result;

constexpr const char* kFormat = "springwright-model";
const std::vector<std::string_view> kGasLaws = {"wall_coefficient", "constant_time", "exponent"};
const std::vector<std::string_view> kStatuses = {"fitted", "given", "not_determined", "at_bound"};

Json matrix_to_json(const Eigen::MatrixXd& matrix) {
  Json rows = Json::array();
  for (Eigen::Index i = 0; i < matrix.rows(); ++i) {
    Json row = Json::array();
    for (Eigen::Index j = 0; j < matrix.cols(); ++j) row.push_back(matrix(i, j));
    rows.push_back(std::move(row));
  }
  return rows;
}

Json parameter_to_json(const FittedParameter& parameter) {
  const bool known = parameter.status != ParameterStatus::not_determined;
  const auto number = [&](double value) { return known ? Json(value) : Json(nullptr); };
  Json out{{"name", parameter.name},
           {"value", number(parameter.value)},
           {"unit", parameter.unit},
           {"standard_uncertainty", number(parameter.standard_uncertainty)},
           {"statistical_uncertainty", number(parameter.statistical_uncertainty)},
           {"status", status_name(parameter.status)}};
  if (!parameter.sweep.empty()) out["sweep"] = parameter.sweep;
  if (!parameter.reason.empty()) out["reason"] = parameter.reason;
  if (parameter.profile && known) {
    const auto end = [](const std::optional<double>& at) { return at ? Json(*at) : Json(nullptr); };
    out["profile"] = Json{{"confidence", parameter.profile->confidence},
                          {"low", end(parameter.profile->low)},
                          {"high", end(parameter.profile->high)}};
  }
  return out;
}

Json law_to_json(const FittedModel& model) {
  Json values = Json::array();
  for (std::size_t i = 0; i < kLawSize; ++i) {
    values.push_back(Json{{"name", kLawParameters[i].name},
                          {"unit", kLawParameters[i].unit},
                          {"value", model.law_values[i] / kLawParameters[i].unit_SI}});
  }
  Json free = Json::array();
  for (LawIndex index : model.free) free.push_back(kLawParameters[index].name);
  Json shared = Json::array();
  for (const SharedDoubt& doubt : model.shared) {
    shared.push_back(Json{{"name", doubt.name},
                          {"standard_uncertainty", doubt.standard_uncertainty},
                          {"across_forks", doubt.across_forks},
                          {"shift", std::vector<double>(doubt.shift.begin(), doubt.shift.end())}});
  }
  return Json{{"values", values},
              {"free", free},
              {"own_covariance", matrix_to_json(model.own_covariance)},
              {"statistical_covariance", matrix_to_json(model.statistical_covariance)},
              {"doubts", shared},
              {"reference_pressure_Pa", model.reference.pressure_Pa},
              {"reference_temperature_K", model.reference.temperature_K}};
}

Json context_to_json(const FitContext& context) {
  return Json{{"mean_pressure_gauge_Pa", context.mean_pressure_gauge_Pa},
              {"mean_speed_m_s", context.mean_speed_m_s},
              {"temperature_K", context.temperature_K},
              {"ambient_pressure_Pa", context.ambient_pressure_Pa},
              {"vented_at_m", context.vent.travel_m},
              {"vented_pressure_Pa", context.vent.pressure_Pa},
              {"vented_temperature_K", context.vent.temperature_K},
              {"swept_travel_m", context.swept_travel_m},
              {"largest_force_N", context.largest_force_N},
              {"gauge_reading_Pa", context.gauge_reading_Pa},
              {"calibrated_force_N", context.calibrated_force_N},
              {"rig_id", context.rig_id},
              {"force_calibration_id", context.force_calibration_id},
              {"record_ids", context.record_ids}};
}

FitContext context_from_json(const Json& json, const std::string& place, JsonFields& parent) {
  JsonFields fields(json, place);
  FitContext out;
  out.mean_pressure_gauge_Pa = fields.number("mean_pressure_gauge_Pa");
  out.mean_speed_m_s = fields.number("mean_speed_m_s");
  out.temperature_K = fields.number("temperature_K");
  out.ambient_pressure_Pa = fields.number("ambient_pressure_Pa");
  out.vent.travel_m = fields.number("vented_at_m");
  out.vent.pressure_Pa = fields.number("vented_pressure_Pa");
  out.vent.temperature_K = fields.number("vented_temperature_K");
  out.swept_travel_m = fields.number("swept_travel_m");
  out.largest_force_N = fields.number("largest_force_N");
  out.gauge_reading_Pa = fields.number("gauge_reading_Pa");
  out.calibrated_force_N = fields.number("calibrated_force_N");
  out.rig_id = fields.text("rig_id");
  out.force_calibration_id = fields.text("force_calibration_id");
  out.record_ids = fields.texts("record_ids");
  if (const auto done = fields.finish(); !done) parent.fail(done.error());
  return out;
}

std::optional<LawIndex> index_of(const std::string& name) {
  for (std::size_t i = 0; i < kLawSize; ++i) {
    if (kLawParameters[i].name == name) return static_cast<LawIndex>(i);
  }
  return std::nullopt;
}

// A P x P matrix, symmetric enough to be a covariance.
Eigen::MatrixXd matrix_from_json(JsonFields& fields, const char* key, std::size_t size) {
  const Json& rows = fields.any(key);
  Eigen::MatrixXd out =
      Eigen::MatrixXd::Zero(static_cast<Eigen::Index>(size), static_cast<Eigen::Index>(size));
  const auto refuse = [&] {
    fields.fail(Errc::input_malformed, key,
                "is not a square matrix of numbers, one row for each free parameter");
  };
  if (!rows.is_array() || rows.size() != size) {
    refuse();
    return out;
  }
  for (std::size_t i = 0; i < size; ++i) {
    if (!rows[i].is_array() || rows[i].size() != size) {
      refuse();
      return out;
    }
    for (std::size_t j = 0; j < size; ++j) {
      if (!rows[i][j].is_number()) {
        refuse();
        return out;
      }
      out(static_cast<Eigen::Index>(i), static_cast<Eigen::Index>(j)) = rows[i][j].get<double>();
    }
  }
  return out;
}

void read_values(const Json& values, FittedModel& model, JsonFields& parent) {
  std::array<bool, kLawSize> seen{};
  for (const Json& entry : values.is_array() ? values : Json::array()) {
    JsonFields fields(entry, parent.place_of("values"));
    const std::optional<LawIndex> index = index_of(fields.text("name"));
    const std::string unit = fields.text("unit");
    const double value = fields.number("value");
    if (const auto done = fields.finish(); !done) return parent.fail(done.error());
    if (!index || unit != kLawParameters[*index].unit) {
      return parent.fail(Errc::input_malformed, "values",
                         "names a parameter or unit that this program does not know");
    }
    model.law_values[*index] = value * kLawParameters[*index].unit_SI;
    seen[*index] = true;
  }
  for (std::size_t i = 0; i < kLawSize; ++i) {
    if (seen[i]) continue;
    if (!kLawParameters[i].absent_SI) {
      return parent.fail(Errc::input_malformed, "values",
                         "does not hold every parameter of the law");
    }
    model.law_values[i] = *kLawParameters[i].absent_SI;
  }
}

void read_doubts(const Json& doubts, FittedModel& model, JsonFields& parent) {
  for (const Json& entry : doubts.is_array() ? doubts : Json::array()) {
    JsonFields fields(entry, parent.place_of("doubts"));
    SharedDoubt doubt;
    doubt.name = fields.text("name");
    doubt.standard_uncertainty = fields.number("standard_uncertainty");
    doubt.across_forks = fields.boolean("across_forks");
    const std::vector<double> shift = fields.numbers("shift");
    if (const auto done = fields.finish(); !done) return parent.fail(done.error());
    if (shift.size() != model.free.size()) {
      return parent.fail(Errc::input_malformed, "doubts", "has a shift of the wrong length");
    }
    doubt.shift =
        Eigen::Map<const Eigen::VectorXd>(shift.data(), static_cast<Eigen::Index>(shift.size()));
    model.shared.push_back(std::move(doubt));
  }
}

void read_law(const Json& json, const std::string& place, FittedModel& model, JsonFields& parent) {
  JsonFields fields(json, place);
  read_values(fields.any("values"), model, fields);
  for (const std::string& name : fields.texts("free")) {
    const std::optional<LawIndex> index = index_of(name);
    if (index) model.free.push_back(*index);
    if (!index)
      fields.fail(Errc::input_malformed, "free",
                  "names a parameter that this program does not know");
  }
  model.own_covariance = matrix_from_json(fields, "own_covariance", model.free.size());
  model.statistical_covariance =
      matrix_from_json(fields, "statistical_covariance", model.free.size());
  read_doubts(fields.any("doubts"), model, fields);
  model.reference.pressure_Pa = fields.number("reference_pressure_Pa");
  model.reference.temperature_K = fields.number("reference_temperature_K");
  if (const auto done = fields.finish(); !done) parent.fail(done.error());
}

void read_profile(const Json& json, const std::string& place, FittedParameter& out,
                  JsonFields& parent) {
  JsonFields fields(json, place);
  ProfileInterval interval;
  interval.confidence = fields.number("confidence");
  const auto end = [&](const char* key) -> std::optional<double> {
    const Json& at = fields.any(key);
    return at.is_number() ? std::optional(at.get<double>()) : std::nullopt;
  };
  interval.low = end("low");
  interval.high = end("high");
  if (const auto done = fields.finish(); !done) parent.fail(done.error());
  out.profile = interval;
}

void read_parameters(const Json& json, FittedModel& model, JsonFields& parent) {
  for (const Json& entry : json.is_array() ? json : Json::array()) {
    JsonFields fields(entry, parent.place_of("parameters"));
    FittedParameter out;
    out.name = fields.text("name");
    out.unit = fields.text("unit");
    out.status = static_cast<ParameterStatus>(fields.word("status", kStatuses));
    out.sweep = fields.text_or_empty("sweep");
    out.reason = fields.text_or_empty("reason");
    if (out.status == ParameterStatus::not_determined) {
      fields.any("value");
      fields.any("standard_uncertainty");
      fields.any("statistical_uncertainty");
      const std::optional<LawIndex> index = index_of(out.name);
      if (index) out.value = model.law_values[*index] / kLawParameters[*index].unit_SI;
    } else {
      out.value = fields.number("value");
      out.standard_uncertainty = fields.number("standard_uncertainty");
      out.statistical_uncertainty = fields.number("statistical_uncertainty");
    }
    if (const Json* profile = fields.maybe("profile")) {
      read_profile(*profile, fields.place_of("profile"), out, fields);
    }
    if (const auto done = fields.finish(); !done) return parent.fail(done.error());
    model.parameters.push_back(std::move(out));
  }
}

void read_tried(const Json& json, FittedModel& model, JsonFields& parent) {
  for (const Json& entry : json.is_array() ? json : Json::array()) {
    JsonFields fields(entry, parent.place_of("gas_laws_tried"));
    LawTried out;
    out.law = static_cast<GasLaw>(fields.word("gas_law", kGasLaws));
    out.elements = fields.text_or_empty("elements");
    if (fields.maybe("parameters") != nullptr) {
      out.parameters = static_cast<int>(fields.integer("parameters", 0, 1000));
    }
    out.structured_residual_N = fields.number("structured_residual_N");
    out.criterion = fields.number("criterion");
    if (const auto done = fields.finish(); !done) return parent.fail(done.error());
    model.laws_tried.push_back(out);
  }
}

}  // namespace

std::string gas_law_name(GasLaw law) {
  return std::string(kGasLaws[static_cast<std::size_t>(law)]);
}

std::string status_name(ParameterStatus status) {
  return std::string(kStatuses[static_cast<std::size_t>(status)]);
}

Json model_document(const FittedModel& model) {
  Json parameters = Json::array();
  for (const FittedParameter& parameter : model.parameters)
    parameters.push_back(parameter_to_json(parameter));
  Json tried = Json::array();
  for (const LawTried& law : model.laws_tried) {
    tried.push_back(Json{{"gas_law", gas_law_name(law.law)},
                         {"elements", law.elements},
                         {"parameters", law.parameters},
                         {"structured_residual_N", law.structured_residual_N},
                         {"criterion", law.criterion}});
  }
  return Json{{"format", kFormat},
              {"format_version", kModelFormatVersion},
              {"fork", protocol::fork_to_json(model.fork)},
              {"gas_law", gas_law_name(model.law)},
              {"parameters", parameters},
              {"rms_residual_N", model.rms_residual_N},
              {"structured_residual_N", model.structured_residual_N},
              {"samples", model.samples},
              {"usable", model.usable},
              {"warnings", model.warnings},
              {"gas_laws_tried", tried},
              {"diagnosis", diagnosis_to_json(model)},
              {"context", context_to_json(model.context)},
              {"law", law_to_json(model)}};
}

Result<FittedModel> parse_model(const std::string& text, const std::string& name) {
  const Result<Json> json = protocol::parse_json(text, name);
  if (!json) return json.error();
  JsonFields fields(*json, name);
  FittedModel model;
  if (fields.text("format") != kFormat) {
    return protocol::Error{Errc::input_malformed,
                           name + ": is not a fitted model; `springwright fit` writes one."};
  }
  fields.integer("format_version", 1, kModelFormatVersion);
  const Result<protocol::Fork> fork = protocol::fork_from_json(fields.any("fork"), name + ": fork");
  if (!fork) return fork.error();
  model.fork = *fork;
  model.law = static_cast<GasLaw>(fields.word("gas_law", kGasLaws));
  read_law(fields.any("law"), name + ": law", model, fields);
  read_parameters(fields.any("parameters"), model, fields);
  model.rms_residual_N = fields.number("rms_residual_N");
  model.structured_residual_N = fields.number("structured_residual_N");
  model.samples = fields.count("samples");
  model.usable = fields.boolean("usable");
  model.warnings = fields.texts("warnings");
  read_tried(fields.any("gas_laws_tried"), model, fields);
  read_diagnosis(fields.maybe("diagnosis"), model, fields);
  model.context = context_from_json(fields.any("context"), name + ": context", fields);
  if (const auto done = fields.finish(); !done) return done.error();
  return model;
}

}  // namespace fitting
