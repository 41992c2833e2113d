#include "calibration/readings_file.hpp"

#include <fmt/format.h>

#include "protocol/record/file_system.hpp"

namespace calibration {

using protocol::Errc;
using protocol::Error;
using protocol::Result;

namespace {

bool ends_with(const std::string& text, std::string_view ending) {
  return text.size() >= ending.size() &&
         text.compare(text.size() - ending.size(), ending.size(), ending) == 0;
}

}  // namespace

Result<ReadingSet> load_readings(const std::string& path, Kind kind) {
  const bool is_toml = ends_with(path, ".toml");
  if (!is_toml && !ends_with(path, ".csv")) {
    return Error{
        Errc::input_malformed,
        fmt::format("{}: readings are read from a file whose name ends in .toml or .csv.", path)};
  }
  constexpr size_t kBytesMax = 16u << 20u;
  const Result<std::string> text = protocol::read_text_file(path, kBytesMax);
  if (!text) return text.error();
  return is_toml ? parse_readings_toml(*text, path, kind) : parse_readings_csv(*text, path, kind);
}

Result<std::vector<CreepReading>> load_creep_csv(const std::string& path) {
  constexpr size_t kBytesMax = 16u << 20u;
  const Result<std::string> text = protocol::read_text_file(path, kBytesMax);
  if (!text) return text.error();
  return parse_creep_csv(*text, path);
}

}  // namespace calibration
