#include "controller/cli/page/page_talk.hpp"

#include <algorithm>

namespace controller::cli {

using protocol::Json;

namespace {

// More than anyone scrolls back, and no burden to send.
constexpr size_t kLinesMax = 120;

}  // namespace

void PageTalk::begin() {
  {
    const std::lock_guard lock(mutex_);
    lines_.clear();
    unfinished_.clear();
    status_.clear();
    written_.reset();
    is_asking_ = false;
  }
  tell_(told());
}

void PageTalk::end() {
  {
    const std::lock_guard lock(mutex_);
    status_.clear();
    is_asking_ = false;
  }
  tell_(told());
}

bool PageTalk::write(const std::string& line) {
  {
    const std::lock_guard lock(mutex_);
    if (!is_asking_) return false;
    is_asking_ = false;
    written_ = line;
  }
  tell_(told());
  return true;
}

Json PageTalk::told() const {
  const std::lock_guard lock(mutex_);
  return {{"talk", {{"lines", lines_}, {"status", status_}, {"asking", is_asking_}}}};
}

std::string PageTalk::last_line() const {
  const std::lock_guard lock(mutex_);
  const auto line = std::find_if(lines_.rbegin(), lines_.rend(),
                                 [](const std::string& each) { return !each.empty(); });
  return line == lines_.rend() ? std::string() : *line;
}

std::optional<std::string> PageTalk::poll_line() {
  std::optional<std::string> line;
  {
    const std::lock_guard lock(mutex_);
    if (!written_ && is_asking_) return line;
    line = std::exchange(written_, std::nullopt);
    is_asking_ = !line;
    if (line) lines_.push_back("> " + *line);
  }
  tell_(told());
  return line;
}

void PageTalk::show_status(const std::string& status) {
  {
    const std::lock_guard lock(mutex_);
    if (status == status_) return;
    status_ = status;
  }
  tell_(told());
}

// --- What is printed, line by line --------------------------------------------------------------

PageTalk::int_type PageTalk::overflow(int_type character) {
  if (traits_type::eq_int_type(character, traits_type::eof())) return 0;
  const char one = traits_type::to_char_type(character);
  return xsputn(&one, 1) == 1 ? character : traits_type::eof();
}

std::streamsize PageTalk::xsputn(const char* text, std::streamsize size) {
  const std::lock_guard lock(mutex_);
  for (const char each : std::string_view(text, static_cast<size_t>(size))) {
    if (each != '\n') {
      unfinished_ += each;
      continue;
    }
    lines_.push_back(std::exchange(unfinished_, {}));
    if (lines_.size() > kLinesMax) lines_.pop_front();
  }
  return size;
}

int PageTalk::sync() {
  tell_(told());
  return 0;
}

}  // namespace controller::cli
