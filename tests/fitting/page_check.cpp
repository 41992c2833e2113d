#include "tests/fitting/page_check.hpp"

#include <unistd.h>

#include <array>
#include <cstdio>
#include <filesystem>
#include <fstream>

namespace tests {

std::string check_file(const std::string& kind, const std::string& content) {
  namespace fs = std::filesystem;
  const fs::path path =
      fs::temp_directory_path() / ("springwright-check-" + std::to_string(::getpid()));
  std::ofstream(path, std::ios::binary) << content;
  const std::string command =
      std::string("python3 '" SPRINGWRIGHT_SOURCE_DIR "/tests/fitting/check_page.py' ") + kind +
      " '" + path.string() + "' 2>&1";
  FILE* pipe = ::popen(command.c_str(), "r");
  if (pipe == nullptr) return "python3 could not be started";
  std::string said;
  std::array<char, 4096> chunk{};
  for (std::size_t count = 0; (count = std::fread(chunk.data(), 1, chunk.size(), pipe)) > 0;) {
    said.append(chunk.data(), count);
  }
  const int status = ::pclose(pipe);
  fs::remove(path);
  if (status == 0) return said;
  return said.empty() ? "the check failed without a word" : said;
}

}  // namespace tests
