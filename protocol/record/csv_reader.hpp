// CSV text taken apart as RFC 4180 says, with the place of every field. Knows nothing of numbers.
//
// A byte order mark at the start is skipped; lines end in LF or CR LF; fields may be quoted, with
// "" for a quote inside. What RFC 4180 leaves out is refused, never repaired.
#pragma once

#include <string>
#include <string_view>
#include <vector>

#include "protocol/result.hpp"

namespace protocol {

struct CsvField {
  std::string text;
  size_t line = 0;    // from 1
  size_t column = 0;  // from 1, in bytes; where the field begins
};

class CsvReader {
 public:
  // `text` must outlive the reader; `name` stands for the file in messages.
  CsvReader(std::string_view text, std::string name, char separator);

  // The next line's fields into `fields` (reused). RETURNS: false at the end of the text; empty
  // lines at the end are not lines. ERRORS: input_malformed with line and column.
  Result<bool> next(std::vector<CsvField>& fields);

  // "larch.csv:12:7".
  std::string place(const CsvField& field) const;

 private:
  Result<void> read_field(CsvField& field);
  Result<void> read_quoted(CsvField& field);
  bool only_line_ends_left() const;
  Error fault(const std::string& message) const;
  size_t column() const { return position_ - line_start_ + 1; }

  std::string_view text_;
  std::string name_;
  char separator_;
  size_t position_ = 0;
  size_t line_ = 1;
  size_t line_start_ = 0;
};

}  // namespace protocol
