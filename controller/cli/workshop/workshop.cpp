#include "controller/cli/workshop/workshop.hpp"

#include <fmt/format.h>

#include "protocol/record/metadata_json.hpp"

namespace controller::cli {

namespace fs = std::filesystem;

std::optional<fs::path> find_workshop(const fs::path& from) {
  std::error_code error;
  for (fs::path folder = fs::absolute(from, error).lexically_normal(); !error;
       folder = folder.parent_path()) {
    if (fs::exists(folder / "bench.toml", error)) return folder;
    if (folder == folder.parent_path()) break;
  }
  return std::nullopt;
}

std::string file_stem(const std::string& name) {
  std::string stem;
  for (const char each : name) {
    const bool plain = (each >= 'a' && each <= 'z') || (each >= '0' && each <= '9');
    if (plain) {
      stem += each;
    } else if (each >= 'A' && each <= 'Z') {
      stem += static_cast<char>(each - 'A' + 'a');
    } else if (!stem.empty() && stem.back() != '-') {
      stem += '-';
    }
  }
  while (!stem.empty() && stem.back() == '-') stem.pop_back();
  return stem.empty() ? "fork" : stem;
}

fs::path next_record_path(const fs::path& folder, const std::string& stem) {
  for (int number = 1;; ++number) {
    fs::path path = folder / fmt::format("{}-{:03}.csv", stem, number);
    std::error_code error;
    if (!fs::exists(path, error) && !fs::exists(protocol::metadata_path(path), error)) return path;
  }
}

}  // namespace controller::cli
