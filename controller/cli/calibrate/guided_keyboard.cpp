#include "controller/cli/calibrate/guided_keyboard.hpp"

#include <fmt/ostream.h>
#include <poll.h>
#include <unistd.h>

#include "controller/cli/bench/correspondent.hpp"

namespace controller::cli {

GuidedKeyboard::GuidedKeyboard(Console& console) : console_(console) {
  is_live_ = console.correspondent == nullptr && console.err_is_terminal &&
             isatty(STDIN_FILENO) == 1 && tcgetattr(STDIN_FILENO, &before_) == 0;
  if (!is_live_) return;
  termios keys = before_;
  keys.c_lflag &= ~static_cast<tcflag_t>(ICANON | ECHO);
  tcsetattr(STDIN_FILENO, TCSANOW, &keys);
}

GuidedKeyboard::~GuidedKeyboard() {
  if (!is_live_) return;
  clear();
  tcsetattr(STDIN_FILENO, TCSANOW, &before_);
}

std::optional<std::string> GuidedKeyboard::poll_line() {
  if (console_.correspondent != nullptr) return console_.correspondent->poll_line();
  pollfd keyboard{STDIN_FILENO, POLLIN, 0};
  while (!line_ && !is_gone_ && poll(&keyboard, 1, 0) > 0) {
    char key = 0;
    if (read(STDIN_FILENO, &key, 1) != 1) {
      is_gone_ = true;
    } else {
      take_key(key);
    }
  }
  return std::exchange(line_, std::nullopt);
}

void GuidedKeyboard::take_key(char key) {
  constexpr char kEndOfInput = 4, kBackspace = 8, kDelete = 127;
  if (key == '\n' || key == '\r') {
    if (is_live_) {
      // The line stays as it was typed, without the reading.
      fmt::print(console_.err, "\r\033[K> {}\n", typed_);
      console_.err.flush();
      status_.clear();
    }
    line_ = std::exchange(typed_, {});
  } else if (is_live_ && key == kEndOfInput && typed_.empty()) {
    is_gone_ = true;
  } else if (key == kBackspace || key == kDelete) {
    if (!typed_.empty()) typed_.pop_back();
    show(status_);
  } else if (static_cast<unsigned char>(key) >= ' ') {
    typed_ += key;
    show(status_);
  }
}

void GuidedKeyboard::show(const std::string& status) {
  if (console_.correspondent != nullptr) return console_.correspondent->show_status(status);
  if (!is_live_) return;
  status_ = status;
  fmt::print(console_.err, "\r\033[K{}> {}", status_, typed_);
  console_.err.flush();
}

void GuidedKeyboard::clear() {
  if (console_.correspondent != nullptr) return console_.correspondent->show_status("");
  if (!is_live_) return;
  fmt::print(console_.err, "\r\033[K");
  console_.err.flush();
}

}  // namespace controller::cli
