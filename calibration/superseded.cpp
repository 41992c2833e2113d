#include "calibration/superseded.hpp"

#include <algorithm>

#include "calibration/certificate.hpp"

namespace calibration {

namespace fs = std::filesystem;

std::vector<std::string> find_successors(const fs::path& certificate, const std::string& id) {
  const fs::path parent = certificate.parent_path();
  std::vector<std::string> names;
  std::error_code failed;
  for (fs::directory_iterator entry(parent.empty() ? fs::path(".") : parent, failed), end;
       !failed && entry != end; entry.increment(failed)) {
    if (entry->path().extension() != ".json") continue;
    // The day only serves to warn of expiry, which does not matter here.
    const auto other = load_certificate(entry->path(), "");
    if (other && other->calibration.particulars.supersedes == id) {
      names.push_back(entry->path().filename().string());
    }
  }
  std::sort(names.begin(), names.end());
  return names;
}

}  // namespace calibration
