#include "tests/published/nist_nonlinear_data.hpp"

#include <fmt/format.h>

#include <fstream>
#include <locale>
#include <map>
#include <sstream>

namespace nist {
namespace {

using protocol::Errc;
using protocol::Error;
using protocol::Result;

// All numbers of a line, or nothing if a word of it is no number.
std::vector<double> numbers_of(std::istringstream& words) {
  std::vector<double> out;
  std::string word;
  while (words >> word) {
    std::istringstream text(word);
    text.imbue(std::locale::classic());
    double number = 0.0;
    if (!(text >> number) || text.peek() != std::istringstream::traits_type::eof()) return {};
    out.push_back(number);
  }
  return out;
}

// Empty: the set is whole.
std::string fault_of(const Set& set, std::size_t observations) {
  const std::size_t parameters = set.certified.size();
  if (parameters == 0 || set.start_1.size() != parameters || set.start_2.size() != parameters ||
      set.standard_deviation.size() != parameters) {
    return "starts, certified values and standard deviations are not of one length";
  }
  if (set.y.size() != observations || observations == 0) {
    return fmt::format("{} observations instead of {}", set.y.size(), observations);
  }
  if (!set.x2.empty() && set.x2.size() != set.y.size()) return "a row lacks its second predictor";
  return {};
}

}  // namespace

Result<Set> load_set(const std::string& name) {
  const std::string path = SPRINGWRIGHT_SOURCE_DIR "/tests/published/nist/" + name + ".dat";
  std::ifstream file(path);
  if (!file) return Error{Errc::input_missing, fmt::format("{} cannot be opened", path)};
  Set set;
  set.name = name;
  std::vector<double> sum;
  std::vector<double> observations;
  const std::map<std::string, std::vector<double>*> keys = {
      {"start_1", &set.start_1},         {"start_2", &set.start_2},
      {"certified", &set.certified},     {"standard_deviation", &set.standard_deviation},
      {"residual_sum_of_squares", &sum}, {"observations", &observations}};
  std::string line;
  for (int number = 1; std::getline(file, line); ++number) {
    if (line.empty() || line.front() == '#') continue;
    std::istringstream words(line);
    std::string key;
    words >> key;
    const auto known = keys.find(key);
    if (known == keys.end()) words = std::istringstream(line);
    const std::vector<double> values = numbers_of(words);
    const bool row = known == keys.end() && (values.size() == 2 || values.size() == 3);
    if (values.empty() || (known == keys.end() && !row)) {
      return Error{Errc::input_malformed, fmt::format("{}:{}: '{}' is neither a key with numbers "
                                                      "nor an observation",
                                                      path, number, line)};
    }
    if (!row) {
      *known->second = values;
      continue;
    }
    set.y.push_back(values[0]);
    set.x.push_back(values[1]);
    if (values.size() == 3) set.x2.push_back(values[2]);
  }
  if (sum.size() != 1 || observations.size() != 1) {
    return Error{Errc::input_malformed,
                 path + " needs one residual_sum_of_squares and one number of observations"};
  }
  set.residual_sum_of_squares = sum.front();
  const std::string fault = fault_of(set, static_cast<std::size_t>(observations.front()));
  if (!fault.empty()) return Error{Errc::input_malformed, path + ": " + fault};
  return set;
}

const std::vector<std::string>& set_names() {
  static const std::vector<std::string> names = {
      "Misra1a", "Chwirut2", "Chwirut1", "Lanczos3", "Gauss1", "Gauss2",   "DanWood",
      "Misra1b", "Kirby2",   "Hahn1",    "Nelson",   "MGH17",  "Lanczos1", "Lanczos2",
      "Gauss3",  "Misra1c",  "Misra1d",  "Roszman1", "ENSO",   "MGH09",    "Thurber",
      "BoxBOD",  "Rat42",    "MGH10",    "Eckerle4", "Rat43",  "Bennett5"};
  return names;
}

}  // namespace nist
