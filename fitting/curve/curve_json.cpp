#include "fitting/curve/curve_json.hpp"

#include <cmath>
#include <utility>

namespace fitting {
namespace {

using nlohmann::ordered_json;

ordered_json numbers(const std::vector<double>& values, double factor = 1.0) {
  ordered_json array = ordered_json::array();
  for (double value : values) {
    array.push_back(std::isfinite(value) ? ordered_json(value * factor) : ordered_json(nullptr));
  }
  return array;
}

ordered_json flags(const std::vector<bool>& values) {
  ordered_json array = ordered_json::array();
  for (bool value : values) array.push_back(value);
  return array;
}

ordered_json optional_number(const std::optional<double>& value) {
  return value && std::isfinite(*value) ? ordered_json(*value) : ordered_json(nullptr);
}

ordered_json strokes_json(const std::vector<Stroke>& strokes) {
  ordered_json array = ordered_json::array();
  for (const Stroke& stroke : strokes) {
    array.push_back({{"direction", stroke.direction > 0 ? "compression" : "rebound"},
                     {"cycle", stroke.cycle},
                     {"from_mm", stroke.from_m * 1e3},
                     {"to_mm", stroke.to_m * 1e3},
                     {"first_row", stroke.first_row},
                     {"rows", stroke.size()},
                     {"conditioning", stroke.conditioning},
                     {"partial", stroke.partial}});
  }
  return array;
}

ordered_json answer_json(const CurveAnswer& answer) {
  const Loop& loop = answer.loop;
  ordered_json json;
  json["record"] = answer.name;
  json["record_id"] = answer.metadata.record_id;
  json["fork"] = answer.metadata.fork.name;
  json["pressure_gauge_Pa"] = answer.metadata.setting.pressure_gauge_Pa;
  json["spacers"] = answer.metadata.setting.spacers;
  json["speed_mm_s"] =
      loop.speed_m_s > 0.0 ? ordered_json(loop.speed_m_s * 1e3) : ordered_json(nullptr);
  json["single_stroke"] = loop.single_stroke;
  json["quantities"] = quantities_json(answer.quantities);
  json["strokes"] = strokes_json(loop.strokes);
  json["travel_mm"] = numbers(loop.travel_m, 1e3);
  json["compression_N"] = numbers(loop.compression.force_N);
  json["rebound_N"] = numbers(loop.rebound.force_N);
  json["midline_N"] = numbers(loop.midline_N);
  json["midline_standard_uncertainty_N"] = numbers(loop.midline_standard_uncertainty_N);
  json["half_loop_N"] = numbers(loop.half_loop_N);
  json["half_loop_standard_uncertainty_N"] = numbers(loop.half_loop_standard_uncertainty_N);
  json["valid"] = flags(loop.valid);
  json["contact_lost"] = flags(loop.contact_lost);
  // The thermal time comes from a fit; without one nobody knows how far a turn is felt.
  json["speed_dependent"] =
      loop.speed_dependent.empty() ? ordered_json(nullptr) : flags(loop.speed_dependent);
  const Rate rate = local_rate(answer.midline);
  json["rate_travel_mm"] = numbers(answer.midline.travel_m, 1e3);
  json["rate_N_per_mm"] = numbers(rate.rate_N_m, 1e-3);
  json["rate_standard_uncertainty_N_per_mm"] = numbers(rate.standard_uncertainty_N_m, 1e-3);
  json["remarks"] = loop.remarks;
  return json;
}

}  // namespace

protocol::Result<CurveAnswer> answer_curve(const std::string& name,
                                           const protocol::SweepRecord& record,
                                           const LoopOptions& loop_options,
                                           const QuantityOptions& quantity_options) {
  protocol::Result<Loop> loop = make_loop(record, loop_options);
  if (!loop) return protocol::at(name, loop.error());
  protocol::Result<Curve> midline = midline_curve(*loop);
  if (!midline) return protocol::at(name, midline.error());
  protocol::Result<std::vector<Quantity>> quantities =
      loop_quantities(record, *loop, quantity_options);
  if (!quantities) return protocol::at(name, quantities.error());
  return CurveAnswer{name, record.metadata, *std::move(loop), *std::move(midline),
                     *std::move(quantities)};
}

ordered_json quantities_json(const std::vector<Quantity>& quantities) {
  ordered_json json = ordered_json::object();
  for (const Quantity& quantity : quantities) {
    ordered_json& entry = json[quantity.name];
    entry["value"] = optional_number(quantity.value);
    entry["standard_uncertainty"] = optional_number(quantity.standard_uncertainty);
    if (!quantity.note.empty()) entry["note"] = quantity.note;
  }
  return json;
}

ordered_json curve_json(const std::vector<CurveAnswer>& answers) {
  ordered_json curves = ordered_json::array();
  for (const CurveAnswer& answer : answers) curves.push_back(answer_json(answer));
  return ordered_json{{"curves", std::move(curves)}};
}

}  // namespace fitting
