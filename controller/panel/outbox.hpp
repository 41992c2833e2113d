// What waits to be sent to one watcher. Points of a loop are dropped, the oldest first, when a slow
// watcher has too many of them: they are drawn and never kept. State is never dropped; a watcher
// that does not even take that is let go.
#pragma once

#include <deque>
#include <memory>
#include <string>

namespace controller::panel {

enum class Feed { state, points };

class Outbox {
 public:
  // Shared by all watchers that it is sent to.
  using Text = std::shared_ptr<const std::string>;
  static constexpr size_t kPointsMax = 64;
  static constexpr size_t kStatesMax = 64;

  // RETURNS false where the watcher is to be let go.
  bool put(Feed feed, Text text) {
    size_t& count = feed == Feed::state ? states_ : points_;
    if (feed == Feed::state && count == kStatesMax) return false;
    if (feed == Feed::points && count == kPointsMax) drop_oldest_points();
    ++count;
    waiting_.push_back({feed, std::move(text)});
    return true;
  }

  bool is_empty() const { return waiting_.empty(); }
  Text take() {
    const Item item = std::move(waiting_.front());
    waiting_.pop_front();
    --(item.feed == Feed::state ? states_ : points_);
    return item.text;
  }
  size_t dropped() const { return dropped_; }

 private:
  struct Item {
    Feed feed;
    Text text;
  };

  void drop_oldest_points() {
    for (auto item = waiting_.begin(); item != waiting_.end(); ++item) {
      if (item->feed != Feed::points) continue;
      waiting_.erase(item);
      --points_;
      ++dropped_;
      return;
    }
  }

  std::deque<Item> waiting_;
  size_t states_ = 0;
  size_t points_ = 0;
  size_t dropped_ = 0;
};

}  // namespace controller::panel
