// A command that converses, on the page: what it says line by line, its live reading, and the lines
// that the operator writes back. The command runs in the bench's thread.
#pragma once

#include <deque>
#include <functional>
#include <mutex>
#include <streambuf>
#include <string>

#include "controller/cli/bench/correspondent.hpp"
#include "controller/cli/page/page_operator.hpp"
#include "protocol/record/json_fields.hpp"

namespace controller::cli {

class PageTalk final : public Correspondent, private std::streambuf {
 public:
  // tell: {"talk": {"lines", "status", "asking"}}, whenever it has changed. What is passed in must
  // outlive it.
  PageTalk(PageOperator& person, PageStop& stop, std::function<void(const protocol::Json&)> tell)
      : person_(person), stop_(stop), tell_(std::move(tell)) {}

  // A new conversation: what was said before is gone.
  void begin();
  // Nothing is asked any more; what was said stays to be read.
  void end();
  // A line from the page. From any thread. RETURNS false where none is asked for: a second click
  // must not answer what comes next, which may move the carriage.
  bool write(const std::string& line);
  // For a console: what is printed there stands on the page.
  std::streambuf* printed() { return this; }

  // As it was told last. From any thread.
  protocol::Json told() const;
  // The last line that is not empty.
  std::string last_line() const;

  void ask(const std::string& what) override { person_.ask(what); }
  host::Answer answer(std::chrono::milliseconds patience) override {
    return person_.answer(patience);
  }
  std::optional<std::string> poll_line() override;
  void show_status(const std::string& status) override;
  host::StopSource& stop() override { return stop_; }

 private:
  int_type overflow(int_type character) override;
  std::streamsize xsputn(const char* text, std::streamsize size) override;
  int sync() override;

  PageOperator& person_;
  PageStop& stop_;
  std::function<void(const protocol::Json&)> tell_;

  mutable std::mutex mutex_;  // over what follows
  std::deque<std::string> lines_;
  std::string unfinished_;
  std::string status_;
  bool is_asking_ = false;
  std::optional<std::string> written_;
};

}  // namespace controller::cli
