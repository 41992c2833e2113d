#include "protocol/record/json_fields.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <set>

namespace protocol {
namespace {

constexpr int kDepthMax = 32;

const Json& null_json() {
  static const Json kNull;
  return kNull;
}

// "line 3, column 7" out of the number of bytes before the fault.
std::string line_and_column(std::string_view text, size_t offset) {
  const std::string_view before = text.substr(0, std::min(offset, text.size()));
  const auto line = 1 + std::count(before.begin(), before.end(), '\n');
  const size_t start = before.rfind('\n') == std::string_view::npos ? 0 : before.rfind('\n') + 1;
  return fmt::format("{}:{}", line, before.size() - start + 1);
}

}  // namespace

Result<Json> parse_json(std::string_view text, const std::string& name) {
  std::vector<std::set<std::string>> keys;
  std::string refused;
  const auto look = [&](int depth, Json::parse_event_t event, Json& value) {
    if (depth > kDepthMax) refused = fmt::format("nested deeper than {}", kDepthMax);
    if (event == Json::parse_event_t::object_start) keys.emplace_back();
    if (event == Json::parse_event_t::object_end) keys.pop_back();
    if (event == Json::parse_event_t::key) {
      const std::string& key = value.get_ref<const std::string&>();
      if (!keys.back().insert(key).second) refused = fmt::format("'{}' is given twice", key);
    }
    // What is refused is not kept, so that a hostile file stays small in memory.
    return refused.empty();
  };
  try {
    Json json = Json::parse(text.begin(), text.end(), look);
    if (refused.empty()) return json;
  } catch (const nlohmann::json::parse_error& error) {
    return Error{Errc::input_malformed,
                 fmt::format("{}:{}: this is not JSON.", name,
                             line_and_column(text, error.byte > 0 ? error.byte - 1 : 0))};
  } catch (const nlohmann::json::exception&) {
    refused = "a number is too large";
  }
  return Error{Errc::input_malformed, fmt::format("{}: {}.", name, refused)};
}

std::string json_text(const Json& json) {
  return json.dump(2) + "\n";
}

JsonFields::JsonFields(const Json& object, std::string place)
    : object_(object), place_(std::move(place)) {
  if (!object_.is_object()) {
    fail(Error{Errc::input_malformed, fmt::format("{}: an object is wanted here.", place_)});
  }
}

std::string JsonFields::place_of(std::string_view key) const {
  return fmt::format("{}.{}", place_, key);
}

void JsonFields::fail(Errc code, std::string_view key, const std::string& message) {
  fail(Error{code, fmt::format("{}: {}", place_of(key), message)});
}

void JsonFields::fail(const Error& error) {
  if (!error_) error_ = error;
}

const Json* JsonFields::find(std::string_view key, bool required) {
  asked_.emplace_back(key);
  if (!object_.is_object()) return nullptr;
  const auto found = object_.find(std::string(key));
  if (found != object_.end()) return &*found;
  if (required) fail(Errc::input_malformed, key, "this key is missing.");
  return nullptr;
}

const Json* JsonFields::maybe(std::string_view key) {
  return find(key, false);
}

const Json& JsonFields::any(std::string_view key) {
  const Json* value = find(key, true);
  return value ? *value : null_json();
}

std::optional<double> JsonFields::maybe_number(std::string_view key) {
  const Json* value = find(key, false);
  if (!value) return std::nullopt;
  if (!value->is_number() || !std::isfinite(value->get<double>())) {
    fail(Errc::input_malformed, key, fmt::format("{} is not a number.", value->dump()));
    return std::nullopt;
  }
  return value->get<double>();
}

double JsonFields::number(std::string_view key) {
  if (!find(key, true)) return 0.0;
  return maybe_number(key).value_or(0.0);
}

int64_t JsonFields::integer(std::string_view key, int64_t low, int64_t high) {
  const Json* value = find(key, true);
  if (!value) return low;
  const bool fits = value->is_number_integer() &&
                    (!value->is_number_unsigned() ||
                     value->get<uint64_t>() <= static_cast<uint64_t>(INT64_MAX)) &&
                    value->get<int64_t>() >= low && value->get<int64_t>() <= high;
  if (!fits) {
    fail(Errc::input_malformed, key,
         fmt::format("{} is not a whole number from {} to {}.", value->dump(), low, high));
    return low;
  }
  return value->get<int64_t>();
}

uint64_t JsonFields::count(std::string_view key) {
  return static_cast<uint64_t>(integer(key, 0, INT64_MAX));
}

bool JsonFields::boolean(std::string_view key) {
  const Json* value = find(key, true);
  if (!value) return false;
  if (!value->is_boolean()) {
    fail(Errc::input_malformed, key, fmt::format("{} is not true or false.", value->dump()));
    return false;
  }
  return value->get<bool>();
}

std::string JsonFields::text(std::string_view key) {
  if (!find(key, true)) return "";
  return text_or_empty(key);
}

std::string JsonFields::text_or_empty(std::string_view key) {
  const Json* value = find(key, false);
  if (!value) return "";
  if (!value->is_string()) {
    fail(Errc::input_malformed, key, fmt::format("{} is not a text.", value->dump()));
    return "";
  }
  return value->get<std::string>();
}

std::vector<double> JsonFields::numbers(std::string_view key) {
  std::vector<double> result;
  const Json& value = any(key);
  if (!value.is_array()) fail(Errc::input_malformed, key, "a list of numbers is wanted here.");
  for (const Json& item : value) {
    if (!item.is_number() || !std::isfinite(item.get<double>())) {
      fail(Errc::input_malformed, key, fmt::format("{} is not a number.", item.dump()));
      return {};
    }
    result.push_back(item.get<double>());
  }
  return result;
}

std::vector<std::string> JsonFields::texts(std::string_view key) {
  std::vector<std::string> result;
  const Json& value = any(key);
  if (!value.is_array()) fail(Errc::input_malformed, key, "a list of texts is wanted here.");
  for (const Json& item : value) {
    if (!item.is_string()) {
      fail(Errc::input_malformed, key, fmt::format("{} is not a text.", item.dump()));
      return {};
    }
    result.push_back(item.get<std::string>());
  }
  return result;
}

size_t JsonFields::word(std::string_view key, const std::vector<std::string_view>& words) {
  const std::string given = text(key);
  for (size_t i = 0; i < words.size(); ++i) {
    if (words[i] == given) return i;
  }
  fail(Errc::input_malformed, key,
       fmt::format("'{}' is not one of: {}.", given, fmt::join(words, ", ")));
  return 0;
}

Result<void> JsonFields::finish() {
  if (error_) return *error_;
  for (const auto& [key, value] : object_.items()) {
    if (std::find(asked_.begin(), asked_.end(), key) != asked_.end()) continue;
    return Error{Errc::input_unknown_key, fmt::format("{}: '{}' is not a known key; known are: {}.",
                                                      place_, key, fmt::join(asked_, ", "))};
  }
  return {};
}

}  // namespace protocol
