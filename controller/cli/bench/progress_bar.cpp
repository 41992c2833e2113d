#include "controller/cli/bench/progress_bar.hpp"

#include <fmt/ostream.h>

#include <cmath>

namespace controller::cli {
namespace {

std::string time_left(double seconds) {
  const auto whole = static_cast<long>(std::ceil(seconds));
  if (whole < 60) return fmt::format("{} s left", whole);
  if (whole < 3600) return fmt::format("{} min {} s left", whole / 60, whole % 60);
  return fmt::format("{} h {} min left", whole / 3600, whole % 3600 / 60);
}

}  // namespace

std::string progress_line(const host::Progress& progress) {
  constexpr int kWidth = 24;
  const int full = static_cast<int>(progress.fraction * kWidth);
  return fmt::format("[{:#<{}}{:<{}}] {:3.0f} %  {}, {}", "", full, "", kWidth - full,
                     100.0 * progress.fraction, progress.phase,
                     progress.left_s ? time_left(*progress.left_s) : "estimating the time left");
}

void ProgressBar::show(const host::Progress& progress) {
  if (!console_.err_is_terminal) return;
  fmt::print(console_.err, "\r{}\033[K", progress_line(progress));
  console_.err.flush();
  shown_ = true;
}

void ProgressBar::clear() {
  if (shown_) fmt::print(console_.err, "\r\033[K");
  console_.err.flush();
  shown_ = false;
}

}  // namespace controller::cli
