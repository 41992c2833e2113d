#include "controller/cli/answers/model_file.hpp"

#include "fitting/model/model_json.hpp"
#include "protocol/record/file_system.hpp"

namespace controller::cli {

protocol::Result<fitting::FittedModel> load_model(const std::filesystem::path& path) {
  const protocol::Result<std::string> text = protocol::read_text_file(path, kModelBytesMax);
  if (!text) return text.error();
  return fitting::parse_model(*text, path.string());
}

}  // namespace controller::cli
