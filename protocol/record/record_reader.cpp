#include "protocol/record/record_reader.hpp"

#include <fmt/format.h>

#include <charconv>
#include <cmath>

#include "protocol/record/csv_reader.hpp"
#include "protocol/record/file_system.hpp"
#include "protocol/record/metadata_json.hpp"
#include "protocol/record/sha256.hpp"

namespace protocol {
namespace {

constexpr size_t kCsvBytesMax = size_t{256} << 20;
constexpr size_t kMetadataBytesMax = size_t{4} << 20;

Result<std::string> metadata_text(const std::filesystem::path& csv_path) {
  Result<std::string> text = read_text_file(metadata_path(csv_path), kMetadataBytesMax);
  if (!text && text.error().code == Errc::input_missing) {
    return Error{Errc::input_missing,
                 fmt::format("{} A record is two files; bring a plain CSV file in with "
                             "\"springwright import\".",
                             text.error().message)};
  }
  return text;
}

Result<ReadMetadata> parse_metadata(const std::string& text, const std::string& name) {
  const Result<Json> json = parse_json(text, name);
  if (!json) return json.error();
  return metadata_from_document(*json, name);
}

template <class T>
Result<T> number(const CsvReader& csv, const CsvField& field, const std::string& column) {
  T value{};
  const char* const last = field.text.data() + field.text.size();
  const auto [end, status] = std::from_chars(field.text.data(), last, value);
  bool good = status == std::errc{} && end == last;
  if constexpr (std::is_floating_point_v<T>) good = good && std::isfinite(value);
  if (good) return value;
  return Error{Errc::input_malformed,
               fmt::format("{}: '{}' is not a number for {}; the record is damaged.",
                           csv.place(field), field.text, column)};
}

// Reads one field into the vector of its column.
class RowSink {
 public:
  RowSink(SweepRecord& record, const CsvReader& csv) : record_(record), csv_(csv) {}

  Result<void> take(const CsvField& field, const std::string& column) {
    if (column == "time_s") return push(record_.time_s, field, column);
    if (column == "stroke") return push(record_.stroke, field, column);
    if (column == "travel_mm") {
      const Result<double> value = number<double>(csv_, field, column);
      if (!value) return value.error();
      record_.travel_m.push_back(from_unit(*value, "mm"));
      return {};
    }
    if (column == "force_N") return push(record_.force_N, field, column);
    if (column == "raw_steps") return push(record_.raw_steps, field, column);
    return push(record_.raw_counts, field, column);
  }

 private:
  template <class T>
  Result<void> push(std::vector<T>& target, const CsvField& field, const std::string& column) {
    const Result<T> value = number<T>(csv_, field, column);
    if (!value) return value.error();
    target.push_back(*value);
    return {};
  }

  SweepRecord& record_;
  const CsvReader& csv_;
};

Result<void> check_header(const CsvReader& csv, const std::vector<CsvField>& header,
                          const std::vector<std::string>& names) {
  for (size_t i = 0; i < std::max(header.size(), names.size()); ++i) {
    if (i < header.size() && i < names.size() && header[i].text == names[i]) continue;
    return Error{
        Errc::input_malformed,
        fmt::format("{}: the header is not '{}', as the metadata says.",
                    csv.place(header[std::min(i, header.size() - 1)]), fmt::join(names, ","))};
  }
  return {};
}

Result<void> read_rows(std::string_view text, const std::string& name, const RecordColumns& columns,
                       SweepRecord& record) {
  const std::vector<std::string> names = column_names(columns);
  CsvReader csv(text, name, ',');
  std::vector<CsvField> fields;
  Result<bool> more = csv.next(fields);
  if (!more) return more.error();
  if (!*more) return Error{Errc::record_unusable, fmt::format("'{}' has no rows.", name)};
  const Result<void> header = check_header(csv, fields, names);
  if (!header) return header.error();
  RowSink sink(record, csv);
  while ((more = csv.next(fields)) && *more) {
    if (fields.size() != names.size()) {
      return Error{Errc::input_malformed,
                   fmt::format("{}: {} fields, where the header has {}; the record is damaged.",
                               csv.place(fields.back()), fields.size(), names.size())};
    }
    for (size_t i = 0; i < names.size(); ++i) {
      const Result<void> taken = sink.take(fields[i], names[i]);
      if (!taken) return taken.error();
    }
    const size_t row = record.time_s.size();
    if (row >= 2 && record.time_s[row - 1] < record.time_s[row - 2]) {
      return Error{
          Errc::input_malformed,
          fmt::format("{}: time goes back from {} to {} s; the record is damaged.",
                      csv.place(fields.front()), record.time_s[row - 2], record.time_s[row - 1])};
    }
  }
  if (!more) return more.error();
  if (record.size() == 0) {
    return Error{Errc::record_unusable, fmt::format("'{}' has no rows.", name)};
  }
  return {};
}

void settle_state(Metadata& metadata) {
  if (metadata.state != RecordState::running) return;
  metadata.state = RecordState::interrupted;
  metadata.state_reason =
      "the record was never closed: it is still being written, or the program "
      "or the computer stopped";
}

// Compares the rows with what closing the record noted.
void check_seal(const RowsSeal& seal, std::string_view text, SweepRecord& record) {
  Metadata& metadata = record.metadata;
  if (sha256_hex(text) == seal.sha256) return;
  if (record.size() < seal.rows) {
    metadata.state = RecordState::interrupted;
    metadata.state_reason = fmt::format("only {} of the {} rows that were written are still there",
                                        record.size(), seal.rows);
  }
  metadata.remarks.push_back("The CSV file was changed after the record was closed.");
}

}  // namespace

Result<Metadata> load_record_metadata(const std::filesystem::path& path) {
  const Result<std::string> text = metadata_text(path);
  if (!text) return text.error();
  Result<ReadMetadata> read = parse_metadata(*text, metadata_path(path).string());
  if (!read) return read.error();
  settle_state(read->metadata);
  return read->metadata;
}

Result<SweepRecord> load_record(const std::filesystem::path& path, UnusableRecords unusable) {
  const Result<std::string> csv = read_text_file(path, kCsvBytesMax);
  if (!csv) return csv.error();
  const Result<std::string> metadata = metadata_text(path);
  if (!metadata) return metadata.error();
  return parse_record(*csv, *metadata, path, unusable);
}

Result<SweepRecord> parse_record(std::string_view csv, const std::string& metadata,
                                 const std::filesystem::path& path, UnusableRecords unusable) {
  const Result<ReadMetadata> read = parse_metadata(metadata, metadata_path(path).string());
  if (!read) return read.error();
  SweepRecord record;
  record.metadata = read->metadata;
  if (!record.metadata.unusable_reason.empty() && unusable == UnusableRecords::refuse) {
    return Error{Errc::record_unusable,
                 fmt::format("'{}' is marked unusable: {}. Undo that with \"springwright mark {} "
                             "--usable\".",
                             path.string(), record.metadata.unusable_reason, path.string())};
  }
  settle_state(record.metadata);
  // Rows are written whole; only a crash leaves a last line without its line end.
  const size_t whole = csv.rfind('\n') == std::string_view::npos ? 0 : csv.rfind('\n') + 1;
  if (whole < csv.size()) ++record.metadata.torn_rows;
  const Result<void> rows = read_rows(csv.substr(0, whole), path.string(), read->columns, record);
  if (!rows) return rows.error();
  if (read->seal) check_seal(*read->seal, csv, record);
  return record;
}

}  // namespace protocol
