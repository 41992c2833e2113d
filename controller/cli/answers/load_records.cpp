#include "controller/cli/answers/load_records.hpp"

#include <fmt/format.h>

#include "protocol/record/record_reader.hpp"

namespace controller::cli {

using protocol::Result;

Result<std::vector<protocol::SweepRecord>> load_records(const std::vector<std::string>& paths,
                                                        Console& console) {
  std::vector<protocol::SweepRecord> records;
  for (const std::string& path : paths) {
    Result<protocol::SweepRecord> record = protocol::load_record(path);
    if (!record) return record.error();
    detail(console,
           fmt::format("Read {}: {}, {} rows.", path, record->metadata.fork.name, record->size()));
    records.push_back(std::move(record).value());
  }
  return records;
}

}  // namespace controller::cli
