#include "controller/cli/answers/report_folder.hpp"

#include <fmt/format.h>

#include <array>
#include <utility>
#include <vector>

#include "controller/cli/answers/draw_figure.hpp"
#include "fitting/report/data_files.hpp"

namespace controller::cli {
namespace {

namespace fs = std::filesystem;

using fitting::Terminal;
using protocol::Errc;
using protocol::Error;
using protocol::FileSystem;
using protocol::Result;

// What is going to be written, in order.
using Content = std::vector<std::pair<fs::path, std::string>>;

struct Format {
  Terminal terminal;
  const char* ending;
};
constexpr std::array<Format, 3> kFormats = {
    {{Terminal::svg, ".svg"}, {Terminal::png, ".png"}, {Terminal::pdf, ".pdf"}}};

Result<void> draw(const fitting::Report& report, Content& content, fitting::DrawnFigures& drawn) {
  for (const fitting::Figure* figure : fitting::figures_of(report)) {
    for (const Format& format : kFormats) {
      Result<std::string> drawing = draw_figure(*figure, format.terminal);
      if (!drawing) return protocol::at("figure " + figure->name, drawing.error());
      if (format.terminal == Terminal::svg) drawn[figure->name] = *drawing;
      content.emplace_back(fs::path("figures") / (figure->name + format.ending),
                           *std::move(drawing));
    }
    if (figure->size == fitting::FigureSize::half) continue;
    const fitting::Figure narrow = fitting::for_phones(*figure);
    Result<std::string> drawing = draw_figure(narrow);
    if (!drawing) return protocol::at("figure " + narrow.name, drawing.error());
    drawn[narrow.name] = *std::move(drawing);
  }
  return {};
}

Result<void> write_all(FileSystem& files, const Content& content, const fs::path& folder,
                       std::vector<fs::path>& written) {
  for (const fs::path& each : {folder, folder / "figures", folder / "data"}) {
    if (const Result<void> made = files.create_folder(each); !made) return made;
  }
  for (const auto& [name, bytes] : content) {
    const Result<void> done = protocol::write_new_file(files, folder / name, bytes);
    // A file whose last step failed may be there all the same; one that was taken is not ours.
    if (done || done.error().code != Errc::output_exists) written.push_back(folder / name);
    if (!done) return done;
  }
  return {};
}

Error taken(const fs::path& path) {
  return {Errc::output_exists,
          fmt::format("{} exists already; nothing is overwritten, so choose another folder with "
                      "--out.",
                      path.string())};
}

// Takes away what was written, and the folders that are left empty by it.
void undo(FileSystem& files, const fs::path& folder, const std::vector<fs::path>& written) {
  for (const fs::path& path : written) (void)files.remove(path);
  std::error_code ignored;
  for (const fs::path& each : {folder / "figures", folder / "data", folder}) {
    fs::remove(each, ignored);
  }
}

}  // namespace

Result<void> check_report_folder(FileSystem& files, const fs::path& folder) {
  for (const char* name : {"report.html", "data/report.json"}) {
    if (files.exists(folder / name)) return taken(folder / name);
  }
  return {};
}

Result<fs::path> write_report(FileSystem& files, const fitting::Report& report,
                              const fs::path& folder) {
  if (const Result<void> free = check_report_folder(files, folder); !free) return free.error();
  Content content;
  fitting::DrawnFigures drawn;
  if (const Result<void> done = draw(report, content, drawn); !done) return done.error();
  for (auto& [name, text] : fitting::report_csv_files(report)) {
    content.emplace_back(fs::path("data") / name, std::move(text));
  }
  content.emplace_back(fs::path("data") / "report.json", fitting::report_json(report));
  content.emplace_back("report.html", fitting::render_report(report, drawn));

  for (const auto& each : content) {
    if (files.exists(folder / each.first)) return taken(folder / each.first);
  }
  std::vector<fs::path> written;
  if (const Result<void> done = write_all(files, content, folder, written); !done) {
    undo(files, folder, written);
    return done.error();
  }
  return folder / "report.html";
}

}  // namespace controller::cli
