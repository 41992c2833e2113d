// Sweep records, and foreign CSV files on their way to become one.
#include <cmath>

#include "protocol/record/csv_import.hpp"
#include "protocol/record/metadata_json.hpp"
#include "protocol/record/record_reader.hpp"
#include "tests/fuzz/must.hpp"
#include "tests/fuzz/targets.hpp"

namespace tests::fuzz {
namespace {

bool all_finite(const std::vector<double>& values) {
  for (const double value : values) {
    if (!std::isfinite(value)) return false;
  }
  return true;
}

bool fits(size_t size, size_t rows) {
  return size == 0 || size == rows;
}

}  // namespace

// The metadata's text, a zero byte, the rows' text.
void fuzz_record(const uint8_t* bytes, size_t size) {
  const std::string_view text = text_of(bytes, size);
  const size_t middle = text.find('\0');
  if (middle == std::string_view::npos) return;
  const std::string metadata(text.substr(0, middle));
  const auto record = protocol::parse_record(text.substr(middle + 1), metadata, "fuzz.csv",
                                             protocol::UnusableRecords::accept);
  if (!record) return must(!record.error().message.empty(), "an error says what is wrong");
  const size_t rows = record->size();
  must(rows > 0, "a record has rows");
  must(record->force_N.size() == rows && fits(record->time_s.size(), rows) &&
           fits(record->stroke.size(), rows) && fits(record->raw_steps.size(), rows) &&
           fits(record->raw_counts.size(), rows),
       "every column has every row");
  must(all_finite(record->travel_m) && all_finite(record->force_N) && all_finite(record->time_s),
       "every number is finite");
  const protocol::Json said =
      protocol::metadata_document(record->metadata, {}, "fuzz.csv", std::nullopt);
  const auto again = protocol::metadata_from_document(said, "again");
  must(again.has_value(), "metadata that was read can be written and read again");
}

// The first byte chooses how the file is to be read.
void fuzz_csv_import(const uint8_t* bytes, size_t size) {
  if (size == 0) return;
  const uint8_t how = bytes[0];
  protocol::CsvImportOptions options;
  if ((how & 1) != 0) {
    options.separator = ';';
    options.decimal = ',';
  }
  options.single_stroke = (how & 2) != 0;
  options.without_time = (how & 4) != 0;
  options.without_force = (how & 8) != 0;
  if ((how & 16) != 0) options.travel = protocol::CsvColumn{"way", "in"};
  protocol::Fork fork;
  fork.name = "Larch 160";
  fork.travel_m = 0.160;
  const auto rows = protocol::import_csv(text_of(bytes + 1, size - 1), "fuzz.csv", options, fork);
  if (!rows) return must(!rows.error().message.empty(), "an error says what is wrong");
  // A log without force is judged by whoever asked for it.
  must(options.without_force || !rows->travel_m.empty(), "what was imported has rows");
  must(fits(rows->time_s.size(), rows->travel_m.size()) &&
           fits(rows->force_N.size(), rows->travel_m.size()),
       "every column has every row");
  must(all_finite(rows->travel_m) && all_finite(rows->force_N) && all_finite(rows->time_s),
       "every number is finite");
}

}  // namespace tests::fuzz
