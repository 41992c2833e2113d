#include "calibration/certificate.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "calibration/calibrate.hpp"
#include "calibration/certificate_json.hpp"
#include "protocol/record/sha256.hpp"

namespace calibration {

using protocol::Errc;
using protocol::Error;
using protocol::Json;
using protocol::Result;

namespace {

// What was worked out on another machine may differ in its last digits.
constexpr double kSameRelative = 1e-9;

class Differences {
 public:
  void compare(const std::string& name, double in_file, double from_readings) {
    const double scale = std::max(std::abs(in_file), std::abs(from_readings));
    if (std::abs(in_file - from_readings) <= kSameRelative * scale) return;
    add(fmt::format("{} is {} in the file, and {} from its readings", name, in_file,
                    from_readings));
  }

  void compare(const std::string& name, const std::vector<double>& in_file,
               const std::vector<double>& from_readings) {
    ENSURE(in_file.size() == from_readings.size());
    for (size_t i = 0; i < in_file.size(); ++i) {
      compare(fmt::format("{}[{}]", name, i), in_file[i], from_readings[i]);
    }
  }

  // The first few, since one changed reading moves everything.
  std::string text() const {
    if (list_.empty()) {
      return "Coefficients and readings agree with each other, so the change is in the "
             "particulars, the conditions, the remarks or the id itself.";
    }
    constexpr size_t kNamedMax = 3;
    std::string text = list_.front();
    for (size_t i = 1; i < std::min(kNamedMax, list_.size()); ++i) text += "; " + list_[i];
    if (list_.size() > kNamedMax) {
      text += fmt::format("; and {} more", list_.size() - kNamedMax);
    }
    return text + ".";
  }

 private:
  void add(std::string text) { list_.push_back(std::move(text)); }
  std::vector<std::string> list_;
};

// Works the calibration out again from its own readings, and names what does not follow from them.
std::string name_differences(const Calibration& in_file) {
  ReadingSet set;
  set.kind = in_file.kind;
  set.readings = in_file.readings;
  set.conditions = in_file.conditions;
  set.particulars = in_file.particulars;
  set.creep = in_file.creep;
  Differences differences;
  if (!in_file.degree_trials.empty()) {
    const Result<Calibration> chosen = make_calibration(set);
    if (chosen) differences.compare("degree", in_file.degree(), chosen->degree());
  }
  // By the file's own degree, so that coefficient stands against coefficient.
  const Result<Calibration> again = make_calibration(set, in_file.degree());
  if (!again) return "From its readings: " + again.error().message;
  for (size_t i = 0; i < set.readings.size(); ++i) {
    differences.compare(fmt::format("readings[{}].reference", i), set.readings[i].reference,
                        again->readings[i].reference);
  }
  differences.compare("coefficients", in_file.coefficients, again->coefficients);
  differences.compare("covariance", in_file.covariance, again->covariance);
  differences.compare("covariance_scale", in_file.covariance_scale, again->covariance_scale);
  differences.compare("residual_standard_deviation", in_file.quality.residual_standard_deviation,
                      again->quality.residual_standard_deviation);
  differences.compare("range.low", in_file.range_low, again->range_low);
  differences.compare("range.high", in_file.range_high, again->range_high);
  differences.compare("beyond_range_relative", in_file.beyond_range_relative,
                      again->beyond_range_relative);
  differences.compare("reference_relative", in_file.reference_relative, again->reference_relative);
  return differences.text();
}

}  // namespace

std::string content_id(const Calibration& calibration) {
  return protocol::sha256_hex(canonical_text(content_json(calibration)));
}

std::string certificate_text(const Calibration& calibration) {
  Json json;
  json["id"] = calibration.id;
  const Json content = content_json(calibration);
  for (const auto& [key, value] : content.items()) json[key] = value;
  return protocol::json_text(json);
}

Result<void> save_certificate(protocol::FileSystem& files, const Calibration& calibration,
                              const std::filesystem::path& path) {
  return protocol::write_new_file(files, path, certificate_text(calibration));
}

Result<LoadedCertificate> parse_certificate(const std::string& text, const std::string& name,
                                            const std::string& today) {
  const Result<Json> json = protocol::parse_json(text, name);
  if (!json) return json.error();
  Result<Calibration> read = calibration_from_json(*json, name);
  if (!read) return read.error();
  const std::string id = protocol::sha256_hex(canonical_text(*json));
  if (id != read->id) {
    return Error{Errc::calibration_unusable,
                 fmt::format("{}: the content does not match its id: it was changed after the "
                             "calibration, and cannot be trusted. {} Take the original file, or "
                             "calibrate again.",
                             name, name_differences(*read))};
  }
  LoadedCertificate loaded;
  loaded.calibration = std::move(*read);
  if (loaded.calibration.is_expired(today)) {
    loaded.warnings.push_back(
        fmt::format("{}: this {} calibration of {} was valid until {}; calibrate again.", name,
                    kind_name(loaded.calibration.kind), loaded.calibration.particulars.date,
                    loaded.calibration.particulars.valid_until));
  }
  return loaded;
}

Result<LoadedCertificate> load_certificate(const std::filesystem::path& path,
                                           const std::string& today) {
  constexpr size_t kBytesMax = 16u << 20u;
  const Result<std::string> text = protocol::read_text_file(path, kBytesMax);
  if (!text) return text.error();
  return parse_certificate(*text, path.string(), today);
}

}  // namespace calibration
