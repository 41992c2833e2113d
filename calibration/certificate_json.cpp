#include "calibration/certificate_json.hpp"

#include <fmt/format.h>

#include "calibration/certificate_derived.hpp"

namespace calibration {

using protocol::Errc;
using protocol::Error;
using protocol::Json;
using protocol::JsonFields;
using protocol::Result;

namespace {

constexpr std::string_view kFormat = "springwright-calibration";
constexpr int kVersion = 2;
// Of version 1, which had other names for the two keys and was otherwise the same.
constexpr std::string_view kFirstFormat = "springwright calibration";
constexpr int64_t kCountMax = 1'000'000;

Json lack_of_fit_json(const LackOfFit& lack) {
  return {{"F", lack.F},
          {"probability", lack.probability},
          {"sum_of_squares", lack.sum_of_squares},
          {"degrees_of_freedom", lack.degrees_of_freedom},
          {"pure_error_sum_of_squares", lack.pure_error_sum_of_squares},
          {"pure_error_degrees_of_freedom", lack.pure_error_degrees_of_freedom}};
}

Json particulars_json(const Particulars& particulars) {
  Json json = {{"rig", particulars.rig_id},
               {"cell", particulars.cell_id},
               {"operator", particulars.operator_name},
               {"date", particulars.date}};
  if (!particulars.valid_until.empty()) json["valid_until"] = particulars.valid_until;
  if (!particulars.place.empty()) json["place"] = particulars.place;
  if (particulars.temperature_K) json["temperature_K"] = *particulars.temperature_K;
  if (!particulars.supersedes.empty()) json["supersedes"] = particulars.supersedes;
  json["standards"] = Json::array();
  for (const Standard& standard : particulars.standards) {
    Json entry = {{"name", standard.name}, {"certificate", standard.certificate}};
    if (standard.relative_standard_uncertainty) {
      entry["relative_standard_uncertainty"] = *standard.relative_standard_uncertainty;
    }
    if (!standard.weight_class.empty()) entry["weight_class"] = standard.weight_class;
    if (!standard.valid_until.empty()) entry["valid_until"] = standard.valid_until;
    json["standards"].push_back(entry);
  }
  return json;
}

Json quality_json(const Quality& quality) {
  Json json = {{"residual_standard_deviation", quality.residual_standard_deviation},
               {"residual_sum_of_squares", quality.residual_sum_of_squares},
               {"degrees_of_freedom", quality.degrees_of_freedom},
               {"largest_residual", quality.largest_residual}};
  if (quality.hysteresis) json["hysteresis"] = *quality.hysteresis;
  if (quality.lack_of_fit) json["lack_of_fit"] = lack_of_fit_json(*quality.lack_of_fit);
  return json;
}

Json degree_trials_json(const std::vector<DegreeTrial>& trials) {
  Json json = Json::array();
  for (const DegreeTrial& trial : trials) {
    Json entry = {{"degree", trial.degree},
                  {"residual_standard_deviation", trial.residual_standard_deviation}};
    if (trial.lack_of_fit) entry["lack_of_fit"] = lack_of_fit_json(*trial.lack_of_fit);
    json.push_back(entry);
  }
  return json;
}

Json creep_json(const CreepRun& creep) {
  Json json = {{"load_N", creep.load_N}};
  if (creep.load_kg) json["load_kg"] = *creep.load_kg;
  json["readings"] = Json::array();
  for (const CreepReading& reading : creep.readings) {
    json["readings"].push_back({{"time_s", reading.time_s}, {"reading", reading.reading}});
  }
  return json;
}

Json readings_json(const std::vector<Reading>& readings) {
  Json json = Json::array();
  for (const Reading& reading : readings) {
    Json entry = {{"reading", reading.reading},
                  {"reference", reading.reference},
                  {"series", reading.series},
                  {"direction", direction_name(reading.direction)}};
    if (reading.load_kg) entry["load_kg"] = *reading.load_kg;
    json.push_back(entry);
  }
  return json;
}

// Keys sorted, and every number a double, so that 200 and 200.0 are one content.
nlohmann::json canonical(const Json& value) {
  if (value.is_object()) {
    nlohmann::json object = nlohmann::json::object();
    for (const auto& [key, element] : value.items()) object[key] = canonical(element);
    return object;
  }
  if (value.is_array()) {
    nlohmann::json array = nlohmann::json::array();
    for (const Json& element : value) array.push_back(canonical(element));
    return array;
  }
  if (value.is_number()) return value.get<double>();
  if (value.is_boolean()) return value.get<bool>();
  if (value.is_string()) return value.get<std::string>();
  return nullptr;
}

// Reads one object under `key`: asks `read` for its fields, then for what nobody asked for.
template <class Read>
void read_object(JsonFields& parent, const Json& json, const std::string& place, Read read) {
  JsonFields fields(json, place);
  read(fields);
  if (const Result<void> finished = fields.finish(); !finished) parent.fail(finished.error());
}

template <class Read>
void read_list(JsonFields& parent, std::string_view key, Read read) {
  const Json& list = parent.any(key);
  if (!list.is_array()) {
    parent.fail(Errc::input_malformed, key, "must be a list");
    return;
  }
  for (size_t i = 0; i < list.size(); ++i) {
    read_object(parent, list[i], fmt::format("{}[{}]", parent.place_of(key), i), read);
  }
}

int read_int(JsonFields& fields, std::string_view key, int64_t low) {
  return static_cast<int>(fields.integer(key, low, kCountMax));
}

void read_particulars(JsonFields& fields, Particulars& particulars) {
  particulars.rig_id = fields.text("rig");
  particulars.cell_id = fields.text("cell");
  particulars.operator_name = fields.text("operator");
  particulars.date = fields.text("date");
  particulars.valid_until = fields.text_or_empty("valid_until");
  particulars.place = fields.text_or_empty("place");
  particulars.temperature_K = fields.maybe_number("temperature_K");
  particulars.supersedes = fields.text_or_empty("supersedes");
  if (!is_date(particulars.date)) fields.fail(Errc::input_malformed, "date", "must be a date");
  if (!particulars.valid_until.empty() && !is_date(particulars.valid_until)) {
    fields.fail(Errc::input_malformed, "valid_until", "must be a date");
  }
  read_list(fields, "standards", [&](JsonFields& entry) {
    Standard standard;
    standard.name = entry.text("name");
    standard.certificate = entry.text("certificate");
    standard.relative_standard_uncertainty = entry.maybe_number("relative_standard_uncertainty");
    standard.weight_class = entry.text_or_empty("weight_class");
    standard.valid_until = entry.text_or_empty("valid_until");
    particulars.standards.push_back(standard);
  });
}

void read_equation(JsonFields& fields, Calibration& calibration) {
  // Units stand in the file for its reader; the kind decides.
  const std::vector<std::string_view> reading_units = {reading_unit(calibration.kind)};
  const std::vector<std::string_view> value_units = {value_unit(calibration.kind)};
  fields.word("reading_unit", reading_units);
  fields.word("value_unit", value_units);
  calibration.through_origin = fields.boolean("through_origin");
  calibration.coefficients = fields.numbers("coefficients");
  calibration.covariance = fields.numbers("covariance");
  calibration.covariance_scale = fields.number("covariance_scale");
  const size_t count = calibration.coefficients.size();
  if (count < 2 || count > kDegreeMax + 1) {
    fields.fail(Errc::input_malformed, "coefficients", "must hold 2 to 4 numbers");
  }
  if (calibration.covariance.size() != count * count) {
    fields.fail(Errc::input_malformed, "covariance",
                "must hold as many numbers as coefficients, squared");
  }
}

std::optional<LackOfFit> read_lack_of_fit(JsonFields& parent) {
  const Json* lack = parent.maybe("lack_of_fit");
  if (lack == nullptr) return std::nullopt;
  LackOfFit read;
  read_object(parent, *lack, parent.place_of("lack_of_fit"), [&](JsonFields& entry) {
    read.F = entry.number("F");
    read.probability = entry.number("probability");
    read.sum_of_squares = entry.number("sum_of_squares");
    read.degrees_of_freedom = read_int(entry, "degrees_of_freedom", 1);
    read.pure_error_sum_of_squares = entry.number("pure_error_sum_of_squares");
    read.pure_error_degrees_of_freedom = read_int(entry, "pure_error_degrees_of_freedom", 1);
  });
  return read;
}

void read_quality(JsonFields& fields, Quality& quality) {
  quality.residual_standard_deviation = fields.number("residual_standard_deviation");
  quality.residual_sum_of_squares = fields.number("residual_sum_of_squares");
  quality.degrees_of_freedom = read_int(fields, "degrees_of_freedom", 1);
  quality.largest_residual = fields.number("largest_residual");
  quality.hysteresis = fields.maybe_number("hysteresis");
  quality.lack_of_fit = read_lack_of_fit(fields);
}

void read_degree_trials(JsonFields& fields, std::vector<DegreeTrial>& trials) {
  if (fields.maybe("degree_trials") == nullptr) return;
  read_list(fields, "degree_trials", [&](JsonFields& entry) {
    DegreeTrial trial;
    trial.degree = read_int(entry, "degree", 1);
    trial.residual_standard_deviation = entry.number("residual_standard_deviation");
    trial.lack_of_fit = read_lack_of_fit(entry);
    trials.push_back(trial);
  });
}

void read_creep(JsonFields& fields, std::optional<CreepRun>& creep) {
  const Json* json = fields.maybe("creep");
  if (json == nullptr) return;
  creep.emplace();
  read_object(fields, *json, fields.place_of("creep"), [&](JsonFields& run) {
    creep->load_N = run.number("load_N");
    creep->load_kg = run.maybe_number("load_kg");
    read_list(run, "readings", [&](JsonFields& entry) {
      creep->readings.push_back({entry.number("time_s"), entry.number("reading")});
    });
  });
}

void read_readings(JsonFields& fields, std::vector<Reading>& readings) {
  read_list(fields, "readings", [&](JsonFields& entry) {
    Reading reading;
    reading.reading = entry.number("reading");
    reading.reference = entry.number("reference");
    reading.series = read_int(entry, "series", 1);
    const std::string direction = entry.text("direction");
    if (const auto known = find_direction(direction)) {
      reading.direction = *known;
    } else {
      entry.fail(Errc::input_malformed, "direction", "must be ascending or descending");
    }
    reading.load_kg = entry.maybe_number("load_kg");
    readings.push_back(reading);
  });
  if (readings.size() < 2) fields.fail(Errc::input_malformed, "readings", "must be two or more");
}

Result<void> read_version(JsonFields& fields, const Json& certificate, const std::string& name) {
  const bool is_first = certificate.is_object() && certificate.contains("version");
  fields.word("format", {is_first ? kFirstFormat : kFormat});
  const int64_t version = fields.integer(is_first ? "version" : "format_version", 1, kCountMax);
  if (version <= (is_first ? 1 : kVersion)) return {};
  return Error{Errc::input_malformed,
               fmt::format("{}: written by a newer Springwright (versions up to {} are known).",
                           name, kVersion)};
}

}  // namespace

Json content_json(const Calibration& calibration) {
  Json json;
  json["format"] = kFormat;
  json["format_version"] = kVersion;
  json["kind"] = kind_name(calibration.kind);
  json["particulars"] = particulars_json(calibration.particulars);
  json["conditions"] = Json::object();
  if (calibration.conditions.gravity_m_s2) {
    json["conditions"]["gravity_m_s2"] = *calibration.conditions.gravity_m_s2;
  }
  if (calibration.conditions.air_density_kg_m3) {
    json["conditions"]["air_density_kg_m3"] = *calibration.conditions.air_density_kg_m3;
  }
  json["equation"] = {{"reading_unit", reading_unit(calibration.kind)},
                      {"value_unit", value_unit(calibration.kind)},
                      {"through_origin", calibration.through_origin},
                      {"coefficients", calibration.coefficients},
                      {"covariance", calibration.covariance},
                      {"covariance_scale", calibration.covariance_scale}};
  json["quality"] = quality_json(calibration.quality);
  if (!calibration.degree_trials.empty()) {
    json["degree_trials"] = degree_trials_json(calibration.degree_trials);
  }
  json["range"] = {{"low", calibration.range_low}, {"high", calibration.range_high}};
  json["beyond_range_relative"] = calibration.beyond_range_relative;
  json["reference_relative"] = calibration.reference_relative;
  json["readings"] = readings_json(calibration.readings);
  if (calibration.creep) json["creep"] = creep_json(*calibration.creep);
  if (calibration.resolution > 0.0) json["resolution"] = calibration.resolution;
  json["remarks"] = calibration.remarks;
  const Json derived = derived_json(calibration);  // items() needs it to outlive the loop
  for (const auto& [key, value] : derived.items()) json[key] = value;
  return json;
}

std::string canonical_text(const Json& certificate) {
  nlohmann::json content = canonical(certificate);
  content.erase("id");
  return content.dump();
}

Result<Calibration> calibration_from_json(const Json& certificate, const std::string& name) {
  Calibration calibration;
  JsonFields fields(certificate, name);
  calibration.id = fields.text("id");
  if (const Result<void> known = read_version(fields, certificate, name); !known) {
    return known.error();
  }
  const std::vector<std::string_view> kinds = {"force", "travel", "frame"};
  calibration.kind = find_kind(kinds[fields.word("kind", kinds)]).value();
  const auto part = [&](std::string_view key, auto read) {
    read_object(fields, fields.any(key), fields.place_of(key), read);
  };
  part("particulars", [&](JsonFields& f) { read_particulars(f, calibration.particulars); });
  part("conditions", [&](JsonFields& f) {
    calibration.conditions.gravity_m_s2 = f.maybe_number("gravity_m_s2");
    calibration.conditions.air_density_kg_m3 = f.maybe_number("air_density_kg_m3");
  });
  part("equation", [&](JsonFields& f) { read_equation(f, calibration); });
  part("quality", [&](JsonFields& f) { read_quality(f, calibration.quality); });
  part("range", [&](JsonFields& f) {
    calibration.range_low = f.number("low");
    calibration.range_high = f.number("high");
  });
  calibration.beyond_range_relative = fields.number("beyond_range_relative");
  calibration.reference_relative = fields.number("reference_relative");
  read_readings(fields, calibration.readings);
  read_degree_trials(fields, calibration.degree_trials);
  read_creep(fields, calibration.creep);
  calibration.resolution = fields.maybe_number("resolution").value_or(0.0);
  // For the reader of the file; they follow from the rest, and the id guards them.
  fields.maybe("performance");
  fields.maybe("budget");
  calibration.remarks = fields.texts("remarks");
  if (const Result<void> finished = fields.finish(); !finished) return finished.error();
  return calibration;
}

}  // namespace calibration
