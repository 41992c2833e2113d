#include "controller/cli/page/panel_desk.hpp"

#include <algorithm>
#include <sstream>

#include "controller/cli/commands.hpp"

namespace controller::cli {

using protocol::Errc;
using protocol::Error;
using protocol::Json;
using protocol::Result;

namespace {

constexpr size_t kWaitingMax = 16;

Json carried_out(const DeskWork& work) {
  std::vector<const char*> words{"springwright"};
  for (const std::string& word : work.words) words.push_back(word.c_str());
  words.push_back("--json");
  std::ostringstream answer;
  std::ostringstream said;
  Console console{answer, said};
  const int exit = run_command_line(static_cast<int>(words.size()), words.data(), console);
  Json told{{"ticket", work.ticket}, {"exit", exit}};
  // A fit that is not usable has an answer and a complaint.
  if (const Result<Json> json = protocol::parse_json(answer.str(), work.words.front())) {
    told["answer"] = *json;
  }
  if (exit != 0) {
    told["error"] = without_program_name(said.str());
  }
  return told;
}

}  // namespace

std::string without_program_name(std::string error) {
  constexpr std::string_view kName = "springwright: ";
  if (error.rfind(kName, 0) == 0) error.erase(0, kName.size());
  return error;
}

PanelDesk::PanelDesk(Publish publish) : publish_(std::move(publish)) {
  thread_ = std::thread([this] { run(); });
}

PanelDesk::~PanelDesk() {
  {
    const std::lock_guard lock(mutex_);
    quitting_ = true;
  }
  woken_.notify_all();
  thread_.join();
}

Result<void> PanelDesk::put(DeskWork work) {
  {
    const std::lock_guard lock(mutex_);
    const auto same = std::find_if(waiting_.begin(), waiting_.end(), [&](const DeskWork& each) {
      return !each.writes && !work.writes && each.ticket == work.ticket;
    });
    if (same != waiting_.end()) {
      *same = std::move(work);
      return {};
    }
    if (waiting_.size() == kWaitingMax) {
      return Error{Errc::usage, "Too much is being worked out already; wait for it."};
    }
    waiting_.push_back(std::move(work));
  }
  woken_.notify_all();
  return {};
}

void PanelDesk::run() {
  for (;;) {
    DeskWork work;
    {
      std::unique_lock lock(mutex_);
      woken_.wait(lock, [this] { return quitting_ || !waiting_.empty(); });
      if (quitting_) return;
      work = std::move(waiting_.front());
      waiting_.pop_front();
    }
    publish_({{"desk", carried_out(work)}});
  }
}

}  // namespace controller::cli
