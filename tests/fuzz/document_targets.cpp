// The files that describe: forks, benches, models, certificates.
#include "calibration/certificate_json.hpp"
#include "fitting/model/model_json.hpp"
#include "protocol/record/bench_file.hpp"
#include "protocol/record/fork_file.hpp"
#include "protocol/record/fork_json.hpp"
#include "tests/fuzz/must.hpp"
#include "tests/fuzz/targets.hpp"

namespace tests::fuzz {

void fuzz_fork_file(const uint8_t* bytes, size_t size) {
  const auto fork = protocol::parse_fork(text_of(bytes, size), "fuzz.toml");
  if (!fork) return must(!fork.error().message.empty(), "an error says what is wrong");
  const protocol::Json said = protocol::fork_to_json(*fork);
  const auto again = protocol::fork_from_json(said, "again");
  must(again.has_value(), "a fork that was read can be written and read again");
  must(protocol::fork_to_json(*again) == said, "and is the same then");
}

void fuzz_bench_file(const uint8_t* bytes, size_t size) {
  const auto bench = protocol::parse_bench(text_of(bytes, size), "fuzz.toml");
  if (!bench) must(!bench.error().message.empty(), "an error says what is wrong");
}

void fuzz_model(const uint8_t* bytes, size_t size) {
  const auto model = fitting::parse_model(std::string(text_of(bytes, size)), "fuzz.json");
  if (!model) return must(!model.error().message.empty(), "an error says what is wrong");
  const std::string said = protocol::json_text(fitting::model_document(*model));
  const auto again = fitting::parse_model(said, "again.json");
  must(again.has_value(), "a model that was read can be written and read again");
  must(protocol::json_text(fitting::model_document(*again)) == said, "and is the same then");
}

// Past the hash of the content, which random bytes never fit.
void fuzz_certificate(const uint8_t* bytes, size_t size) {
  const auto json = protocol::parse_json(text_of(bytes, size), "fuzz.json");
  if (!json) return must(!json.error().message.empty(), "an error says what is wrong");
  const auto calibration = calibration::calibration_from_json(*json, "fuzz.json");
  if (!calibration)
    return must(!calibration.error().message.empty(), "an error says what is wrong");
  protocol::Json said = calibration::content_json(*calibration);
  const std::string text = calibration::canonical_text(said);
  said["id"] = calibration->id;
  const auto again = calibration::calibration_from_json(said, "again");
  must(again.has_value(), "a certificate that was read can be written and read again");
  must(calibration::canonical_text(calibration::content_json(*again)) == text,
       "and is the same then");
}

}  // namespace tests::fuzz
