// TOML read strictly, for files that people write: quantities as texts with units, and for every
// mistake the file, the line and the column. Only included by the readers of such files.
//
// Usage: ask for every key of a table, then look at finish() once; the first thing wrong is kept.
#pragma once

#include <toml++/toml.h>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "protocol/units.hpp"

namespace protocol {

// ERRORS: input_malformed with `name`, line and column.
Result<toml::table> parse_toml(std::string_view text, std::string_view name);

class TomlFields {
 public:
  // `title` is "" at the top of the file, or "[air_spring]". `table` may be null: then every key is
  // missing, and required ones are asked for at the top of the file. Both outlive this.
  TomlFields(const toml::table* table, std::string title, std::string_view name);

  std::string text(std::string_view key);  // required
  std::optional<std::string> maybe_text(std::string_view key);
  double quantity(std::string_view key, Dimension dimension);  // required
  std::optional<double> maybe_quantity(std::string_view key, Dimension dimension);
  std::optional<Toleranced> maybe_toleranced(std::string_view key, Dimension dimension);
  // A plain number, for keys that carry their unit in their name.
  std::optional<double> maybe_number(std::string_view key);
  // A table of its own, null where it is left out.
  const toml::table* maybe_table(std::string_view key);

  // Keeps a complaint about the value of `key`, if it is the first.
  void fail(Errc code, std::string_view key, const std::string& message);
  // Complains where the value, if there, is not above zero.
  void require_positive(std::string_view key, std::optional<double> value);

  // ERRORS: the first thing wrong, or input_unknown_key with the list of known keys.
  Result<void> finish();

 private:
  const toml::node* find(std::string_view key, bool required);
  std::optional<std::string> text_of(std::string_view key, bool required);
  std::string place(const toml::node* node) const;
  std::string named(std::string_view key) const;

  const toml::table* table_;
  std::string title_;
  std::string name_;
  std::vector<std::string> asked_;
  std::optional<Error> error_;
};

}  // namespace protocol
