#include "controller/cli/answers/figure_file.hpp"

#include <fmt/format.h>

#include "controller/cli/answers/draw_figure.hpp"
#include "protocol/record/file_system.hpp"

namespace controller::cli {
namespace {

using protocol::Errc;
using protocol::Error;
using protocol::Result;

Result<fitting::Terminal> terminal_for(const std::string& path) {
  const std::size_t dot = path.rfind('.');
  const std::string ending = dot == std::string::npos ? "" : path.substr(dot + 1);
  if (ending == "svg") return fitting::Terminal::svg;
  if (ending == "png") return fitting::Terminal::png;
  if (ending == "pdf") return fitting::Terminal::pdf;
  return Error{Errc::usage, fmt::format("--figure '{}': a figure is a file that ends in .svg, .png "
                                        "or .pdf.",
                                        path)};
}

}  // namespace

Result<void> check_figure_file(const std::string& path) {
  if (path.empty()) return {};
  const Result<fitting::Terminal> terminal = terminal_for(path);
  if (!terminal) return terminal.error();
  protocol::DiskFileSystem files;
  if (!files.exists(path)) return {};
  return Error{Errc::output_exists,
               fmt::format("'{}' exists; nothing is overwritten. Name another file.", path)};
}

Result<void> write_figure(const fitting::Figure& figure, const std::string& path) {
  const Result<fitting::Terminal> terminal = terminal_for(path);
  if (!terminal) return terminal.error();
  const Result<std::string> drawn = draw_figure(figure, *terminal);
  if (!drawn) return drawn.error();
  protocol::DiskFileSystem files;
  return protocol::write_new_file(files, path, *drawn);
}

}  // namespace controller::cli
