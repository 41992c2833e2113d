#include "protocol/record/metadata_json.hpp"

#include <fmt/format.h>

#include <cmath>
#include <limits>

#include "protocol/record/fork_json.hpp"

namespace protocol {
namespace {

constexpr std::string_view kContext = "http://www.w3.org/ns/csvw";

const std::vector<std::string_view> kStates = {"running", "complete", "interrupted"};
const std::vector<std::string_view> kStarts = {"equilibrium", "cycled"};
const std::vector<std::string_view> kCouplings = {"clamped", "push"};

std::string word(const std::vector<std::string_view>& words, size_t index) {
  return std::string(words.at(index));
}

template <class T>
void put(Json& json, const char* key, const std::optional<T>& value) {
  if (value) json[key] = *value;
}

void put_text(Json& json, const char* key, const std::string& value) {
  if (!value.empty()) json[key] = value;
}

Json setting_to_json(const Setting& setting) {
  Json json = {{"pressure_gauge_Pa", setting.pressure_gauge_Pa},
               {"spacers", setting.spacers},
               {"temperature_K", setting.temperature_K},
               {"ambient_pressure_Pa", setting.ambient_pressure_Pa}};
  put(json, "pumped_temperature_K", setting.pumped_temperature_K);
  put(json, "pumped_ambient_pressure_Pa", setting.pumped_ambient_pressure_Pa);
  json["vent"] = {{"travel_m", setting.vent.travel_m},
                  {"pressure_Pa", setting.vent.pressure_Pa},
                  {"temperature_K", setting.vent.temperature_K}};
  json["start"] = word(kStarts, static_cast<size_t>(setting.start));
  json["coupling"] = word(kCouplings, static_cast<size_t>(setting.coupling));
  put_text(json, "damper_clicks", setting.damper_clicks);
  return json;
}

Json program_to_json(const std::vector<SweepPart>& program) {
  Json out = Json::array();
  for (const SweepPart& part : program) {
    out.push_back(Json{{"speed_m_s", part.speed_m_s},
                       {"cycles", part.cycles},
                       {"dwell_s", part.dwell_s},
                       {"stops", part.stops}});
  }
  return out;
}

Json conditions_to_json(const TestConditions& conditions) {
  Json json = Json::object();
  put(json, "settled_s", conditions.settled_s);
  put(json, "room_temperature_start_K", conditions.room_temperature_start_K);
  put(json, "room_temperature_end_K", conditions.room_temperature_end_K);
  put(json, "fork_temperature_start_K", conditions.fork_temperature_start_K);
  put(json, "fork_temperature_end_K", conditions.fork_temperature_end_K);
  put(json, "mounting", conditions.mounting);
  return json;
}

void put_calibration(Json& json, const char* key,
                     const std::optional<AppliedCalibration>& calibration) {
  if (!calibration) return;
  Json& target = json[key];
  target = {{"id", calibration->id},
            {"coefficients", calibration->coefficients},
            {"covariance", calibration->covariance},
            {"range_low", calibration->range_low},
            {"range_high", calibration->range_high}};
  put_text(target, "valid_until", calibration->valid_until);
  if (calibration->backlash) {
    target["backlash_m"] = calibration->backlash->value_m;
    target["backlash_standard_uncertainty_m"] = calibration->backlash->standard_uncertainty_m;
  }
}

Json doubt_to_json(const InstrumentDoubt& doubt) {
  return {{"gain_relative", doubt.gain_relative},       {"zero_N", doubt.zero_N},
          {"travel_zero_m", doubt.travel_zero_m},       {"gauge_relative", doubt.gauge_relative},
          {"gauge_reading_Pa", doubt.gauge_reading_Pa}, {"calibrated", doubt.calibrated}};
}

Json counters_to_json(const LineCounters& counters) {
  return {{"frames", counters.frames},
          {"bad_frames", counters.bad_frames},
          {"resync_bytes", counters.resync_bytes},
          {"lost_samples", counters.lost_samples},
          {"late_replies", counters.late_replies}};
}

Json metadata_to_json(const Metadata& metadata, const std::optional<RowsSeal>& seal) {
  Json json = {{"format_version", kRecordFormatVersion},
               {"record_id", metadata.record_id},
               {"created", metadata.created},
               {"state", word(kStates, static_cast<size_t>(metadata.state))}};
  put_text(json, "state_reason", metadata.state_reason);
  put_text(json, "unusable_reason", metadata.unusable_reason);
  json["origin"] = metadata.origin;
  json["source"] = metadata.source;
  put_text(json, "source_sha256", metadata.source_sha256);
  put_text(json, "rig_id", metadata.rig_id);
  json["fork"] = fork_to_json(metadata.fork);
  json["setting"] = setting_to_json(metadata.setting);
  put(json, "speed_m_s", metadata.speed_m_s);
  json["conditioning_cycles"] = metadata.conditioning_cycles;
  json["measuring_cycles"] = metadata.measuring_cycles;
  if (!metadata.program.empty()) json["program"] = program_to_json(metadata.program);
  json["single_stroke"] = metadata.single_stroke;
  put(json, "pressure_after_gauge_Pa", metadata.pressure_after_gauge_Pa);
  json["conditions"] = conditions_to_json(metadata.conditions);
  put(json, "zero_before_counts", metadata.zero_before_counts);
  put(json, "zero_after_counts", metadata.zero_after_counts);
  put(json, "travel_zero_steps", metadata.travel_zero_steps);
  put_text(json, "recomputed_from", metadata.recomputed_from);
  put_calibration(json, "force_calibration", metadata.force_calibration);
  put_calibration(json, "travel_calibration", metadata.travel_calibration);
  put_calibration(json, "frame_calibration", metadata.frame_calibration);
  json["doubt"] = doubt_to_json(metadata.doubt);
  json["counters"] = counters_to_json(metadata.counters);
  json["remarks"] = metadata.remarks;
  if (metadata.torn_rows > 0) json["torn_rows"] = metadata.torn_rows;
  if (seal) json["seal"] = {{"rows", seal->rows}, {"csv_sha256", seal->sha256}};
  return json;
}

struct ColumnText {
  const char* name;
  const char* datatype;
  const char* unit;  // as in units.hpp; "1" for plain numbers
  const char* description;
};

std::vector<ColumnText> column_texts(const RecordColumns& columns) {
  std::vector<ColumnText> texts;
  if (columns.time) texts.push_back({"time_s", "double", "s", "Time since the source's own zero"});
  if (columns.stroke) texts.push_back({"stroke", "integer", "1", "Number of the stroke"});
  texts.push_back({"travel_mm", "double", "mm", "Travel used, 0 at full extension"});
  texts.push_back({"force_N", "double", "N", "Force at the load cell, positive in compression"});
  if (columns.raw_steps) {
    texts.push_back({"raw_steps", "integer", "1", "Motor position in steps, before calibration"});
  }
  if (columns.raw_counts) {
    texts.push_back({"raw_counts", "integer", "1", "Load cell reading, before calibration"});
  }
  return texts;
}

// --- and back ---

int small_integer(JsonFields& fields, std::string_view key) {
  return static_cast<int>(fields.integer(key, 0, std::numeric_limits<int>::max()));
}

void join(JsonFields& outer, JsonFields& inner) {
  const Result<void> done = inner.finish();
  if (!done) outer.fail(done.error());
}

Setting setting_from_json(JsonFields& outer) {
  JsonFields fields(outer.any("setting"), outer.place_of("setting"));
  Setting setting;
  setting.pressure_gauge_Pa = fields.number("pressure_gauge_Pa");
  setting.spacers = small_integer(fields, "spacers");
  setting.temperature_K = fields.number("temperature_K");
  setting.ambient_pressure_Pa = fields.number("ambient_pressure_Pa");
  setting.pumped_temperature_K = fields.maybe_number("pumped_temperature_K");
  setting.pumped_ambient_pressure_Pa = fields.maybe_number("pumped_ambient_pressure_Pa");
  JsonFields vent(fields.any("vent"), fields.place_of("vent"));
  setting.vent.travel_m = vent.number("travel_m");
  setting.vent.pressure_Pa = vent.number("pressure_Pa");
  setting.vent.temperature_K = vent.number("temperature_K");
  join(fields, vent);
  setting.start = static_cast<GasStart>(fields.word("start", kStarts));
  setting.coupling = static_cast<Coupling>(fields.word("coupling", kCouplings));
  setting.damper_clicks = fields.text_or_empty("damper_clicks");
  const bool possible = setting.temperature_K > 0.0 && setting.ambient_pressure_Pa > 0.0 &&
                        setting.vent.temperature_K > 0.0 && setting.vent.pressure_Pa > 0.0;
  if (!possible) {
    fields.fail(Errc::input_out_of_range, "temperature_K",
                "temperatures and absolute pressures must be more than zero.");
  }
  join(outer, fields);
  return setting;
}

std::vector<SweepPart> program_from_json(JsonFields& parent) {
  std::vector<SweepPart> out;
  const Json* program = parent.maybe("program");
  if (program == nullptr) return out;
  if (!program->is_array()) {
    parent.fail(Errc::input_malformed, "program", "is not a list of parts");
    return out;
  }
  for (const Json& entry : *program) {
    JsonFields fields(entry, parent.place_of("program"));
    SweepPart part;
    part.speed_m_s = fields.number("speed_m_s");
    part.cycles = small_integer(fields, "cycles");
    part.dwell_s = fields.number("dwell_s");
    part.stops = small_integer(fields, "stops");
    if (const auto done = fields.finish(); !done) parent.fail(done.error());
    out.push_back(part);
  }
  return out;
}

TestConditions conditions_from_json(JsonFields& outer) {
  JsonFields fields(outer.any("conditions"), outer.place_of("conditions"));
  TestConditions conditions;
  conditions.settled_s = fields.maybe_number("settled_s");
  conditions.room_temperature_start_K = fields.maybe_number("room_temperature_start_K");
  conditions.room_temperature_end_K = fields.maybe_number("room_temperature_end_K");
  conditions.fork_temperature_start_K = fields.maybe_number("fork_temperature_start_K");
  conditions.fork_temperature_end_K = fields.maybe_number("fork_temperature_end_K");
  if (fields.maybe("mounting")) conditions.mounting = small_integer(fields, "mounting");
  join(outer, fields);
  return conditions;
}

std::optional<AppliedCalibration> calibration_from_json(JsonFields& outer, std::string_view key) {
  const Json* json = outer.maybe(key);
  if (!json) return std::nullopt;
  JsonFields fields(*json, outer.place_of(key));
  AppliedCalibration calibration;
  calibration.id = fields.text("id");
  calibration.coefficients = fields.numbers("coefficients");
  calibration.covariance = fields.numbers("covariance");
  calibration.range_low = fields.number("range_low");
  calibration.range_high = fields.number("range_high");
  calibration.valid_until = fields.text_or_empty("valid_until");
  if (fields.maybe("backlash_m")) {
    calibration.backlash =
        Backlash{fields.number("backlash_m"), fields.number("backlash_standard_uncertainty_m")};
  }
  const size_t order = calibration.coefficients.size();
  if (order == 0 || calibration.covariance.size() != order * order) {
    fields.fail(Errc::input_malformed, "covariance",
                "must be square, one row for each of the coefficients.");
  }
  join(outer, fields);
  return calibration;
}

InstrumentDoubt doubt_from_json(JsonFields& outer) {
  JsonFields fields(outer.any("doubt"), outer.place_of("doubt"));
  InstrumentDoubt doubt;
  doubt.gain_relative = fields.number("gain_relative");
  doubt.zero_N = fields.number("zero_N");
  doubt.travel_zero_m = fields.number("travel_zero_m");
  doubt.gauge_relative = fields.number("gauge_relative");
  doubt.gauge_reading_Pa = fields.number("gauge_reading_Pa");
  doubt.calibrated = fields.boolean("calibrated");
  join(outer, fields);
  return doubt;
}

LineCounters counters_from_json(JsonFields& outer) {
  JsonFields fields(outer.any("counters"), outer.place_of("counters"));
  LineCounters counters;
  counters.frames = fields.count("frames");
  counters.bad_frames = fields.count("bad_frames");
  counters.resync_bytes = fields.count("resync_bytes");
  counters.lost_samples = fields.count("lost_samples");
  counters.late_replies = fields.count("late_replies");
  join(outer, fields);
  return counters;
}

Metadata metadata_from_fields(JsonFields& fields) {
  Metadata metadata;
  metadata.record_id = fields.text("record_id");
  metadata.created = fields.text("created");
  metadata.state = static_cast<RecordState>(fields.word("state", kStates));
  metadata.state_reason = fields.text_or_empty("state_reason");
  metadata.unusable_reason = fields.text_or_empty("unusable_reason");
  metadata.origin = fields.text("origin");
  metadata.source = fields.text("source");
  metadata.source_sha256 = fields.text_or_empty("source_sha256");
  metadata.rig_id = fields.text_or_empty("rig_id");
  const Result<Fork> fork = fork_from_json(fields.any("fork"), fields.place_of("fork"));
  if (fork) metadata.fork = *fork;
  if (!fork) fields.fail(fork.error());
  metadata.setting = setting_from_json(fields);
  metadata.speed_m_s = fields.maybe_number("speed_m_s");
  metadata.conditioning_cycles = small_integer(fields, "conditioning_cycles");
  metadata.measuring_cycles = small_integer(fields, "measuring_cycles");
  metadata.program = program_from_json(fields);
  metadata.single_stroke = fields.boolean("single_stroke");
  metadata.pressure_after_gauge_Pa = fields.maybe_number("pressure_after_gauge_Pa");
  metadata.conditions = conditions_from_json(fields);
  metadata.zero_before_counts = fields.maybe_number("zero_before_counts");
  metadata.zero_after_counts = fields.maybe_number("zero_after_counts");
  metadata.travel_zero_steps = fields.maybe_number("travel_zero_steps");
  metadata.recomputed_from = fields.text_or_empty("recomputed_from");
  metadata.force_calibration = calibration_from_json(fields, "force_calibration");
  metadata.travel_calibration = calibration_from_json(fields, "travel_calibration");
  metadata.frame_calibration = calibration_from_json(fields, "frame_calibration");
  metadata.doubt = doubt_from_json(fields);
  metadata.counters = counters_from_json(fields);
  metadata.remarks = fields.texts("remarks");
  if (fields.maybe("torn_rows")) metadata.torn_rows = fields.count("torn_rows");
  return metadata;
}

RecordColumns columns_from_document(JsonFields& top) {
  RecordColumns columns{false, false, false, false};
  JsonFields schema(top.any("tableSchema"), top.place_of("tableSchema"));
  for (const Json& column : schema.any("columns")) {
    const auto found = column.is_object() ? column.find("name") : column.end();
    if (found == column.end() || !found->is_string()) continue;
    const std::string name = found->get<std::string>();
    if (name == "time_s") columns.time = true;
    if (name == "stroke") columns.stroke = true;
    if (name == "raw_steps") columns.raw_steps = true;
    if (name == "raw_counts") columns.raw_counts = true;
  }
  join(top, schema);
  return columns;
}

}  // namespace

std::vector<std::string> column_names(const RecordColumns& columns) {
  std::vector<std::string> names;
  for (const ColumnText& text : column_texts(columns)) names.emplace_back(text.name);
  return names;
}

std::filesystem::path metadata_path(const std::filesystem::path& csv_path) {
  std::filesystem::path path = csv_path;
  path += "-metadata.json";
  return path;
}

Json metadata_document(const Metadata& metadata, const RecordColumns& columns,
                       const std::string& csv_name, const std::optional<RowsSeal>& seal) {
  Json list = Json::array();
  for (const ColumnText& text : column_texts(columns)) {
    list.push_back({{"name", text.name},
                    {"titles", text.name},
                    {"datatype", text.datatype},
                    {"dc:description", text.description},
                    {"unit", text.unit}});
  }
  return {{"@context", kContext},
          {"url", csv_name},
          {"dialect", {{"encoding", "utf-8"}, {"header", true}, {"delimiter", ","}}},
          {"tableSchema", {{"columns", list}}},
          {"springwright", metadata_to_json(metadata, seal)}};
}

Result<ReadMetadata> metadata_from_document(const Json& document, const std::string& name) {
  // Others may add notes of their own around our object, so the top is not held to its known keys.
  JsonFields top(document, name);
  ReadMetadata read;
  JsonFields fields(top.any("springwright"), top.place_of("springwright"));
  const int64_t version = fields.integer("format_version", 1, std::numeric_limits<int>::max());
  if (version > kRecordFormatVersion) {
    return Error{Errc::input_malformed,
                 fmt::format("{}: written in format version {}, and this program reads up to {}; "
                             "use a newer one.",
                             name, version, kRecordFormatVersion)};
  }
  read.metadata = metadata_from_fields(fields);
  if (const Json* json = fields.maybe("seal")) {
    JsonFields seal(*json, fields.place_of("seal"));
    read.seal = RowsSeal{seal.count("rows"), seal.text("csv_sha256")};
    join(fields, seal);
  }
  const Result<void> done = fields.finish();
  if (!done) return done.error();
  read.columns = columns_from_document(top);
  return read;
}

}  // namespace protocol
