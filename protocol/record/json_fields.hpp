// JSON read strictly: each key is asked for by name and kind, and what nobody asked for is refused.
//
// Usage: ask for every key, then look at finish() once; the first thing wrong is kept. Values
// returned after something went wrong are defaults, not to be used.
#pragma once

#include <cstdint>
#include <nlohmann/json.hpp>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "protocol/result.hpp"

namespace protocol {

// Keeps keys in the order of writing, so that files are pleasant to read and to compare.
using Json = nlohmann::ordered_json;

// Parses a whole text. Refused: NaN and infinity, nesting deeper than 32, a key given twice.
// ERRORS: input_malformed with `name`, line and column.
Result<Json> parse_json(std::string_view text, const std::string& name);

// Two spaces of indent, a line feed at the end. REQUIRES: every number is finite.
std::string json_text(const Json& json);

class JsonFields {
 public:
  // `place` names the object in messages. The object must outlive this.
  JsonFields(const Json& object, std::string place);

  double number(std::string_view key);
  int64_t integer(std::string_view key, int64_t low, int64_t high);
  uint64_t count(std::string_view key);
  bool boolean(std::string_view key);
  std::string text(std::string_view key);
  std::vector<double> numbers(std::string_view key);
  std::vector<std::string> texts(std::string_view key);
  // One of the words; its index.
  size_t word(std::string_view key, const std::vector<std::string_view>& words);
  // The value itself, to be read further; null where it is missing.
  const Json& any(std::string_view key);

  // For keys that may be left out.
  std::optional<double> maybe_number(std::string_view key);
  std::string text_or_empty(std::string_view key);
  const Json* maybe(std::string_view key);

  std::string place_of(std::string_view key) const;
  // Keeps the error if it is the first.
  void fail(Errc code, std::string_view key, const std::string& message);
  void fail(const Error& error);
  // ERRORS: the first thing wrong, or input_unknown_key for a key that was not asked for.
  Result<void> finish();

 private:
  const Json* find(std::string_view key, bool required);

  const Json& object_;
  std::string place_;
  std::vector<std::string> asked_;
  std::optional<Error> error_;
};

}  // namespace protocol
