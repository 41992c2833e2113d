// The desk behind the page: what is worked out from records and models - fit, predict, compare,
// report - by the very commands that the command line has, each with --json, in a thread of its
// own.
//
// A question replaces one that still waits for the same place on the page: a slider that moves asks
// often, and only its last place matters. Work that writes is never replaced.
#pragma once

#include <condition_variable>
#include <deque>
#include <functional>
#include <mutex>
#include <string>
#include <thread>
#include <vector>

#include "protocol/record/json_fields.hpp"
#include "protocol/result.hpp"

namespace controller::cli {

struct DeskWork {
  std::string ticket;              // where on the page the answer goes
  std::vector<std::string> words;  // of the command line, without the program's name
  bool writes = false;
};

// Of an error as a command says it on a terminal.
std::string without_program_name(std::string error);

class PanelDesk {
 public:
  using Publish = std::function<void(const protocol::Json& told)>;

  // Tells {"desk": {"ticket", "exit", "answer" or "error"}} when a piece of work is done.
  explicit PanelDesk(Publish publish);
  // What is being worked at is finished, what waits is left.
  ~PanelDesk();
  PanelDesk(const PanelDesk&) = delete;
  PanelDesk& operator=(const PanelDesk&) = delete;

  // ERRORS: usage where too much waits already.
  protocol::Result<void> put(DeskWork work);

 private:
  void run();

  Publish publish_;
  std::mutex mutex_;
  std::condition_variable woken_;
  std::deque<DeskWork> waiting_;
  bool quitting_ = false;
  std::thread thread_;
};

}  // namespace controller::cli
