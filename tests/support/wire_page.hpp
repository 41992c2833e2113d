// Reads the worked bytes out of protocol/wire/WIRE.md, so that the page and the code cannot drift.
#pragma once

#include <cstdint>
#include <fstream>
#include <sstream>
#include <stdexcept>
#include <string>
#include <utility>
#include <vector>

namespace test_support {

struct WorkedFrame {
  std::string message;
  uint16_t sequence = 0;
  // Fields in the page's order; a list is one field with several values.
  std::vector<std::pair<std::string, std::vector<int64_t>>> fields;
  std::vector<uint8_t> bytes;
};

inline std::vector<int64_t> read_numbers(const std::string& list) {
  std::vector<int64_t> numbers;
  std::istringstream parts(list);
  for (std::string part; std::getline(parts, part, ',');) {
    numbers.push_back(std::stoll(part, nullptr, 0));
  }
  return numbers;
}

inline WorkedFrame read_worked_frame(const std::string& line, const std::string& hex) {
  WorkedFrame frame;
  std::istringstream words(line);
  words >> frame.message;
  for (std::string word; words >> word;) {
    const size_t equals = word.find('=');
    if (equals == std::string::npos) throw std::runtime_error("no '=' in " + word);
    frame.fields.emplace_back(word.substr(0, equals), read_numbers(word.substr(equals + 1)));
  }
  if (frame.fields.empty() || frame.fields.front().first != "sequence") {
    throw std::runtime_error("no sequence in " + line);
  }
  frame.sequence = static_cast<uint16_t>(frame.fields.front().second.at(0));
  frame.fields.erase(frame.fields.begin());
  std::istringstream bytes(hex);
  for (std::string byte; bytes >> byte;) {
    frame.bytes.push_back(static_cast<uint8_t>(std::stoul(byte, nullptr, 16)));
  }
  return frame;
}

inline std::vector<WorkedFrame> read_wire_page() {
  std::ifstream page(SPRINGWRIGHT_SOURCE_DIR "/protocol/wire/WIRE.md");
  if (!page) throw std::runtime_error("WIRE.md is missing");
  std::vector<WorkedFrame> frames;
  bool inside = false;
  std::string line;
  while (std::getline(page, line)) {
    if (line == "```frames") {
      inside = true;
    } else if (line == "```") {
      inside = false;
    } else if (inside) {
      std::string hex;
      if (!std::getline(page, hex)) throw std::runtime_error("no bytes after " + line);
      frames.push_back(read_worked_frame(line, hex));
    }
  }
  return frames;
}

}  // namespace test_support
