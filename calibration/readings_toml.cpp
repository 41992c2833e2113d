// Readings as TOML: the particulars above, one [[readings]] table a reading.
#include <fmt/format.h>

#include <toml++/toml.h>

#include <optional>

#include "calibration/readings_columns.hpp"
#include "calibration/readings_file.hpp"

namespace calibration {
namespace {

using protocol::Dimension;
using protocol::Errc;
using protocol::Error;
using protocol::Result;

// Errors carry the place where the key stands.
class Reader {
 public:
  explicit Reader(const std::string& name) : name_(name) {}

  Error error_at(const toml::node& node, Error error) const {
    const auto begin = node.source().begin;
    return protocol::at(fmt::format("{}:{}:{}", name_, begin.line, begin.column), std::move(error));
  }

  Result<std::string> text(const toml::node& node, std::string_view key) const {
    if (const auto value = node.value_exact<std::string>()) return *value;
    if (const auto date = node.value_exact<toml::date>()) {
      return fmt::format("{:04}-{:02}-{:02}", static_cast<int>(date->year),
                         static_cast<int>(date->month), static_cast<int>(date->day));
    }
    return error_at(node, {Errc::input_malformed, fmt::format("'{}' must be a text.", key)});
  }

  Result<double> number(const toml::node& node, std::string_view key) const {
    if (const auto value = node.value<double>(); value && node.is_number()) return *value;
    return error_at(node, {Errc::input_malformed, fmt::format("'{}' must be a number.", key)});
  }

  // 5e-5 or "0.005 %".
  Result<double> fraction(const toml::node& node, std::string_view key) const {
    const auto text_value = node.value_exact<std::string>();
    if (!text_value) return number(node, key);
    const Result<double> value =
        protocol::parse_quantity(*text_value, protocol::Dimension::fraction);
    if (!value) return error_at(node, value.error());
    return *value;
  }

  Result<Reading> reading(const toml::node& node, Kind kind) const {
    const toml::table* table = node.as_table();
    if (table == nullptr) {
      return error_at(node, {Errc::input_malformed, "a reading must be a table."});
    }
    Reading reading;
    reading.line = static_cast<int>(node.source().begin.line);
    int readings = 0;
    int references = 0;
    for (const auto& [key, value] : *table) {
      const Result<Column> column = find_column(kind, key.str());
      if (!column) return error_at(value, column.error());
      readings += column->role == Column::Role::reading ? 1 : 0;
      references += column->role == Column::Role::reference || column->role == Column::Role::mass;
      const Result<void> put = put_value(reading, *column, value, key.str());
      if (!put) return put.error();
    }
    if (readings != 1 || references != 1) {
      return error_at(node, {Errc::input_malformed,
                             fmt::format("a reading names what was read and the standard, once "
                                         "each; {} readings have: {}.",
                                         kind_name(kind), column_list(kind))});
    }
    return reading;
  }

  Result<Standard> standard(const toml::node& node) const {
    const toml::table* table = node.as_table();
    if (table == nullptr) {
      return error_at(node, {Errc::input_malformed, "a standard must be a table."});
    }
    Standard standard;
    for (const auto& [key, value] : *table) {
      if (key == "relative_standard_uncertainty") {
        const Result<double> u = fraction(value, key.str());
        if (!u) return u.error();
        standard.relative_standard_uncertainty = *u;
        continue;
      }
      std::string* place = text_place(standard, key.str());
      if (place == nullptr) {
        return error_at(value,
                        {Errc::input_unknown_key,
                         fmt::format("'{}' is not known; a standard has: name, certificate, "
                                     "relative_standard_uncertainty, weight_class, valid_until.",
                                     key.str())});
      }
      const Result<std::string> word = text(value, key.str());
      if (!word) return word.error();
      *place = *word;
    }
    return standard;
  }

  Result<CreepReading> creep_reading(const toml::node& node) const {
    const toml::table* table = node.as_table();
    CreepReading reading;
    int found = 0;
    if (table != nullptr) {
      for (const auto& [key, value] : *table) {
        if (key != "time_s" && key != "counts") {
          return error_at(
              value,
              {Errc::input_unknown_key,
               fmt::format("'{}' is not known; a creep reading has: time_s, counts.", key.str())});
        }
        const Result<double> read = number(value, key.str());
        if (!read) return read.error();
        (key == "time_s" ? reading.time_s : reading.reading) = *read;
        ++found;
      }
    }
    if (found == 2) return reading;
    return error_at(node, {Errc::input_malformed, "a creep reading is: time_s and counts."});
  }

  Result<void> top_level(ReadingSet& set, std::string_view key, const toml::node& node) const {
    if (key == "readings" || key == "standards" || key == "creep") return list(set, key, node);
    if (const auto quantity = quantity_place(set, key)) {
      const Result<std::string> said = text(node, key);
      if (!said) return said.error();
      const Result<double> value = protocol::parse_quantity(*said, quantity->dimension);
      if (!value) return error_at(node, value.error());
      *quantity->place = *value;
      return {};
    }
    if (double* place = number_place(set, key)) {
      const Result<double> value = number(node, key);
      if (!value) return value.error();
      *place = *value;
      return {};
    }
    if (key == "kind") return kind(set, node);
    std::string* place = text_place(set.particulars, key);
    if (place == nullptr) {
      return error_at(node, {Errc::input_unknown_key,
                             fmt::format("'{}' is not known; known are: kind, rig, cell, operator, "
                                         "date, valid_until, place, temperature, gravity_m_s2, "
                                         "latitude, altitude, air_density_kg_m3, "
                                         "air_temperature, air_pressure, air_humidity, "
                                         "resolution_{}, counts_lowest, counts_highest, "
                                         "creep_load_kg, creep_load_N, creep, standards, "
                                         "readings.",
                                         key, reading_unit(set.kind))});
    }
    const Result<std::string> word = text(node, key);
    if (!word) return word.error();
    *place = *word;
    return {};
  }

 private:
  Result<void> put_value(Reading& reading, const Column& column, const toml::node& node,
                         std::string_view key) const {
    Result<void> put;
    if (column.role == Column::Role::direction) {
      const Result<std::string> word = text(node, key);
      if (!word) return word.error();
      put = put_direction(reading, *word);
    } else {
      const Result<double> value = number(node, key);
      if (!value) return value.error();
      put = put_number(reading, column, *value);
    }
    if (!put) return error_at(node, put.error());
    return {};
  }

  Result<void> list(ReadingSet& set, std::string_view key, const toml::node& node) const {
    const toml::array* array = node.as_array();
    if (array == nullptr) {
      return error_at(node, {Errc::input_malformed, fmt::format("write [[{}]] tables.", key)});
    }
    for (const toml::node& element : *array) {
      if (key == "readings") {
        const Result<Reading> one = reading(element, set.kind);
        if (!one) return one.error();
        set.readings.push_back(*one);
      } else if (key == "creep") {
        const Result<CreepReading> one = creep_reading(element);
        if (!one) return one.error();
        creep_of(set).readings.push_back(*one);
      } else {
        const Result<Standard> one = standard(element);
        if (!one) return one.error();
        set.particulars.standards.push_back(*one);
      }
    }
    return {};
  }

  Result<void> kind(const ReadingSet& set, const toml::node& node) const {
    const Result<std::string> word = text(node, "kind");
    if (!word) return word.error();
    if (*word == kind_name(set.kind)) return {};
    return error_at(node, {Errc::input_malformed,
                           fmt::format("these are {} readings, where {} readings are wanted.",
                                       *word, kind_name(set.kind))});
  }

  static double* number_place(ReadingSet& set, std::string_view key) {
    if (key == "gravity_m_s2") return &set.conditions.gravity_m_s2.emplace(0.0);
    if (key == "air_density_kg_m3") return &set.conditions.air_density_kg_m3.emplace(0.0);
    if (key == "creep_load_kg") return &creep_of(set).load_kg.emplace(0.0);
    if (key == "creep_load_N") return &creep_of(set).load_N;
    if (key == fmt::format("resolution_{}", reading_unit(set.kind))) return &set.resolution;
    if (key == "counts_lowest") return &set.counts_lowest;
    if (key == "counts_highest") return &set.counts_highest;
    return nullptr;
  }

  static CreepRun& creep_of(ReadingSet& set) {
    if (!set.creep) set.creep.emplace();
    return *set.creep;
  }

  struct QuantityPlace {
    std::optional<double>* place = nullptr;
    Dimension dimension = Dimension::length;
  };

  static std::optional<QuantityPlace> quantity_place(ReadingSet& set, std::string_view key) {
    Surroundings& around = set.surroundings;
    if (key == "temperature") {
      return QuantityPlace{&set.particulars.temperature_K, Dimension::temperature};
    }
    if (key == "latitude") return QuantityPlace{&around.latitude_rad, Dimension::angle};
    if (key == "altitude") return QuantityPlace{&around.altitude_m, Dimension::length};
    if (key == "air_temperature") {
      return QuantityPlace{&around.air_temperature_K, Dimension::temperature};
    }
    if (key == "air_pressure") return QuantityPlace{&around.air_pressure_Pa, Dimension::pressure};
    if (key == "air_humidity") return QuantityPlace{&around.air_humidity, Dimension::fraction};
    return std::nullopt;
  }

  static std::string* text_place(Standard& standard, std::string_view key) {
    if (key == "name") return &standard.name;
    if (key == "certificate") return &standard.certificate;
    if (key == "weight_class") return &standard.weight_class;
    if (key == "valid_until") return &standard.valid_until;
    return nullptr;
  }

  static std::string* text_place(Particulars& particulars, std::string_view key) {
    if (key == "rig") return &particulars.rig_id;
    if (key == "cell") return &particulars.cell_id;
    if (key == "operator") return &particulars.operator_name;
    if (key == "date") return &particulars.date;
    if (key == "valid_until") return &particulars.valid_until;
    if (key == "place") return &particulars.place;
    return nullptr;
  }

  const std::string& name_;
};

}  // namespace

Result<ReadingSet> parse_readings_toml(const std::string& text, const std::string& name,
                                       Kind kind) {
  ReadingSet set;
  set.kind = kind;
  toml::table document;
  try {
    document = toml::parse(text, name);
  } catch (const toml::parse_error& failure) {
    const auto begin = failure.source().begin;
    return protocol::at(fmt::format("{}:{}:{}", name, begin.line, begin.column),
                        {Errc::input_malformed, fmt::format("{}.", failure.description())});
  }
  const Reader reader(name);
  for (const auto& [key, node] : document) {
    const Result<void> read = reader.top_level(set, key.str(), node);
    if (!read) return read.error();
  }
  if (set.readings.empty()) {
    return protocol::at(name, Error{Errc::input_malformed, "holds no [[readings]]."});
  }
  return set;
}

}  // namespace calibration
