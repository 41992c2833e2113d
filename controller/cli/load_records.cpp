#include "controller/cli/load_records.hpp"

#include "protocol/record/record_reader.hpp"

namespace controller::cli {

using protocol::Result;

Result<std::vector<protocol::SweepRecord>> load_records(const std::vector<std::string>& paths) {
  std::vector<protocol::SweepRecord> records;
  for (const std::string& path : paths) {
    Result<protocol::SweepRecord> record = protocol::load_record(path);
    if (!record) return record.error();
    records.push_back(std::move(record).value());
  }
  return records;
}

}  // namespace controller::cli
