#include "protocol/record/csv_reader.hpp"

#include <fmt/format.h>

namespace protocol {

CsvReader::CsvReader(std::string_view text, std::string name, char separator)
    : text_(text), name_(std::move(name)), separator_(separator) {
  constexpr std::string_view kByteOrderMark = "\xEF\xBB\xBF";
  if (text_.substr(0, kByteOrderMark.size()) == kByteOrderMark) {
    text_.remove_prefix(kByteOrderMark.size());
  }
}

std::string CsvReader::place(const CsvField& field) const {
  return fmt::format("{}:{}:{}", name_, field.line, field.column);
}

Error CsvReader::fault(const std::string& message) const {
  return Error{Errc::input_malformed, fmt::format("{}:{}:{}: {}", name_, line_, column(), message)};
}

bool CsvReader::only_line_ends_left() const {
  return text_.find_first_not_of("\r\n", position_) == std::string_view::npos;
}

Result<void> CsvReader::read_quoted(CsvField& field) {
  ++position_;  // the opening quote
  while (position_ < text_.size()) {
    const char c = text_[position_++];
    if (c == '"' && position_ < text_.size() && text_[position_] == '"') {
      field.text += '"';
      ++position_;
    } else if (c == '"') {
      return {};
    } else {
      field.text += c;
      if (c == '\n') {
        ++line_;
        line_start_ = position_;
      }
    }
  }
  return Error{Errc::input_malformed,
               fmt::format("{}: a quote that opens here is never closed.", place(field))};
}

Result<void> CsvReader::read_field(CsvField& field) {
  field.text.clear();
  field.line = line_;
  field.column = column();
  if (position_ < text_.size() && text_[position_] == '"') {
    const Result<void> done = read_quoted(field);
    if (!done) return done.error();
  } else {
    const std::string_view ends{"\r\n\"", 3};
    const size_t start = position_;
    while (position_ < text_.size() && text_[position_] != separator_ &&
           ends.find(text_[position_]) == std::string_view::npos) {
      ++position_;
    }
    field.text.assign(text_.substr(start, position_ - start));
  }
  const bool ended = position_ == text_.size() || text_[position_] == separator_ ||
                     text_[position_] == '\n' || text_.substr(position_, 2) == "\r\n";
  if (ended) return {};
  return fault(text_[position_] == '"'    ? "a quote in the middle of a field."
               : text_[position_] == '\r' ? "a carriage return without a line feed."
                                          : "text behind a closing quote.");
}

Result<bool> CsvReader::next(std::vector<CsvField>& fields) {
  if (only_line_ends_left()) {
    fields.clear();
    return false;
  }
  for (size_t count = 1;; ++count) {
    if (fields.size() < count) fields.emplace_back();
    const Result<void> done = read_field(fields[count - 1]);
    if (!done) return done.error();
    if (position_ < text_.size() && text_[position_] == separator_) {
      ++position_;
      continue;
    }
    fields.resize(count);
    if (position_ < text_.size() && text_[position_] == '\r') ++position_;
    if (position_ < text_.size()) ++position_;
    ++line_;
    line_start_ = position_;
    return true;
  }
}

}  // namespace protocol
