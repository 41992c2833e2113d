#include "controller/cli/answers/draw_figure.hpp"

#include "controller/cli/answers/gnuplot_runner.hpp"
#include "fitting/report/finished_svg.hpp"

namespace controller::cli {

protocol::Result<std::string> draw_figure(const fitting::Figure& figure,
                                          fitting::Terminal terminal) {
  protocol::Result<std::string> drawing = run_gnuplot(fitting::gnuplot_script(figure, terminal));
  if (!drawing || terminal != fitting::Terminal::svg) return drawing;
  return fitting::finished_svg(*std::move(drawing), figure);
}

}  // namespace controller::cli
