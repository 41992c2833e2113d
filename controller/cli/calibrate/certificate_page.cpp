#include "controller/cli/calibrate/certificate_page.hpp"

#include <fmt/format.h>

#include "controller/cli/answers/draw_figure.hpp"
#include "fitting/report/certificate_report.hpp"

namespace controller::cli {

using protocol::Errc;
using protocol::Error;
using protocol::Result;

Result<void> check_page_path(protocol::FileSystem& files, const std::filesystem::path& path) {
  if (path.empty() || !files.exists(path)) return {};
  return Error{Errc::output_exists,
               fmt::format("{} exists already and is not overwritten; choose another name with "
                           "--html.",
                           path.string())};
}

Result<void> write_certificate_page(protocol::FileSystem& files,
                                    const calibration::Calibration& calibration,
                                    const std::filesystem::path& path) {
  if (const auto free = check_page_path(files, path); !free) return free.error();
  const fitting::Report report =
      fitting::certificate_report(calibration, "springwright " SPRINGWRIGHT_VERSION);
  fitting::DrawnFigures drawn;
  for (const fitting::Figure* figure : fitting::figures_of(report)) {
    const Result<std::string> drawing = draw_figure(*figure);
    if (!drawing) return protocol::at("figure " + figure->name, drawing.error());
    drawn[figure->name] = *drawing;
  }
  return protocol::write_new_file(files, path, fitting::render_report(report, drawn));
}

}  // namespace controller::cli
