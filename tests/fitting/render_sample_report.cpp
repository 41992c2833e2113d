// Draws the sample report into a folder, for a person to look at: report.html, and every figure as
// SVG, PNG and PDF. Usage: fitting_render_sample_report DIR
#include <filesystem>
#include <fstream>
#include <iostream>

#include "controller/cli/answers/gnuplot_runner.hpp"
#include "fitting/report/finished_svg.hpp"
#include "fitting/report/gnuplot_script.hpp"
#include "tests/fitting/report_sample.hpp"

namespace {

bool save(const std::filesystem::path& path, const std::string& content) {
  std::ofstream file(path, std::ios::binary);
  file << content;
  return file.good();
}

}  // namespace

int main(int argc, char** argv) {
  if (argc != 2) {
    std::cerr << "usage: fitting_render_sample_report DIR\n";
    return 2;
  }
  const std::filesystem::path folder = argv[1];
  std::filesystem::create_directories(folder);
  const fitting::Report report = fitting::make_comparison_report(tests::sample_comparison());
  fitting::DrawnFigures drawn;
  for (const fitting::Figure* figure : fitting::figures_of(report)) {
    for (const auto& [terminal, ending] :
         {std::pair{fitting::Terminal::svg, ".svg"}, std::pair{fitting::Terminal::png, ".png"},
          std::pair{fitting::Terminal::pdf, ".pdf"}}) {
      auto drawing = controller::cli::run_gnuplot(fitting::gnuplot_script(*figure, terminal));
      if (!drawing) {
        std::cerr << figure->name << ": " << drawing.error().message << "\n";
        return 1;
      }
      if (terminal == fitting::Terminal::svg) {
        *drawing = fitting::finished_svg(*drawing, *figure);
        drawn[figure->name] = *drawing;
      }
      if (!save(folder / (figure->name + ending), *drawing)) return 1;
    }
  }
  return save(folder / "report.html", fitting::render_report(report, drawn)) ? 0 : 1;
}
