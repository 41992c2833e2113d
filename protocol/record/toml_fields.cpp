#include "protocol/record/toml_fields.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace protocol {
namespace {

std::string position(std::string_view name, const toml::source_region& source) {
  // A fault at the very top of a file has no position of its own.
  return fmt::format("{}:{}:{}", name, std::max<uint32_t>(source.begin.line, 1),
                     std::max<uint32_t>(source.begin.column, 1));
}

}  // namespace

Result<toml::table> parse_toml(std::string_view text, std::string_view name) {
  try {
    return toml::parse(text);
  } catch (const toml::parse_error& error) {
    return Error{Errc::input_malformed,
                 fmt::format("{}: this is not TOML: {}.", position(name, error.source()),
                             error.description())};
  }
}

TomlFields::TomlFields(const toml::table* table, std::string title, std::string_view name)
    : table_(table), title_(std::move(title)), name_(name) {}

std::string TomlFields::place(const toml::node* node) const {
  if (node) return position(name_, node->source());
  return position(name_, table_ ? table_->source() : toml::source_region{});
}

std::string TomlFields::named(std::string_view key) const {
  return title_.empty() ? fmt::format("'{}'", key) : fmt::format("'{}' in {}", key, title_);
}

void TomlFields::fail(Errc code, std::string_view key, const std::string& message) {
  if (error_) return;
  const toml::node* node = table_ ? table_->get(key) : nullptr;
  error_ = Error{code, fmt::format("{}: {}: {}", place(node), named(key), message)};
}

const toml::node* TomlFields::find(std::string_view key, bool required) {
  if (std::find(asked_.begin(), asked_.end(), key) == asked_.end()) asked_.emplace_back(key);
  const toml::node* node = table_ ? table_->get(key) : nullptr;
  if (!node && required) fail(Errc::input_malformed, key, "this key is required and missing.");
  return node;
}

std::optional<std::string> TomlFields::text_of(std::string_view key, bool required) {
  const toml::node* node = find(key, required);
  if (!node) return std::nullopt;
  const std::optional<std::string> value = node->value_exact<std::string>();
  if (!value) {
    fail(
        Errc::input_malformed, key,
        "a text in quotes is wanted here; a quantity is written with its unit, such as \"31 mm\".");
  }
  return value;
}

std::string TomlFields::text(std::string_view key) {
  return text_of(key, true).value_or("");
}

std::optional<std::string> TomlFields::maybe_text(std::string_view key) {
  return text_of(key, false);
}

std::optional<double> TomlFields::maybe_quantity(std::string_view key, Dimension dimension) {
  const std::optional<std::string> written = text_of(key, false);
  if (!written) return std::nullopt;
  const Result<double> value = parse_quantity(*written, dimension);
  if (!value) {
    fail(value.error().code, key, value.error().message);
    return std::nullopt;
  }
  return *value;
}

double TomlFields::quantity(std::string_view key, Dimension dimension) {
  if (!find(key, true)) return 0.0;
  return maybe_quantity(key, dimension).value_or(0.0);
}

std::optional<Toleranced> TomlFields::maybe_toleranced(std::string_view key, Dimension dimension) {
  const std::optional<std::string> written = text_of(key, false);
  if (!written) return std::nullopt;
  const Result<Toleranced> value = parse_toleranced(*written, dimension);
  if (!value) {
    fail(value.error().code, key, value.error().message);
    return std::nullopt;
  }
  return *value;
}

std::optional<double> TomlFields::maybe_number(std::string_view key) {
  const toml::node* node = find(key, false);
  if (!node) return std::nullopt;
  const std::optional<double> value = node->value<double>();
  if (!value || !node->is_number() || !std::isfinite(*value)) {
    fail(Errc::input_malformed, key, "a number is wanted here.");
    return std::nullopt;
  }
  return value;
}

const toml::table* TomlFields::maybe_table(std::string_view key) {
  const toml::node* node = find(key, false);
  if (node && !node->is_table()) {
    fail(Errc::input_malformed, key, fmt::format("a table is wanted here, written [{}].", key));
  }
  return node ? node->as_table() : nullptr;
}

void TomlFields::require_positive(std::string_view key, std::optional<double> value) {
  if (value && !(*value > 0.0)) fail(Errc::input_out_of_range, key, "must be more than zero.");
}

Result<void> TomlFields::finish() {
  if (table_) {
    for (const auto& [key, node] : *table_) {
      if (std::find(asked_.begin(), asked_.end(), key.str()) != asked_.end()) continue;
      // An unknown key is named first: it is often a required one misspelt.
      return Error{Errc::input_unknown_key, fmt::format("{}: {} is not a known key; known are: {}.",
                                                        position(name_, key.source()),
                                                        named(key.str()), fmt::join(asked_, ", "))};
    }
  }
  if (error_) return *error_;
  return {};
}

}  // namespace protocol
