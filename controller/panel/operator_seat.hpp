// The one seat of whoever may move the rig. It is taken by asking, kept by showing signs of life,
// and free again when given back or when the page fell silent; others watch. Knows no clock.
#pragma once

#include <chrono>
#include <string>

namespace controller::panel {

class OperatorSeat {
 public:
  using Time = std::chrono::steady_clock::time_point;
  // A page says that it lives twice a second; after so long a silence it is gone.
  static constexpr std::chrono::milliseconds kSilenceMax{2000};

  // RETURNS whether it is theirs now.
  bool take(const std::string& page, Time now) {
    if (page.empty() || (!page_.empty() && page_ != page)) return false;
    page_ = page;
    last_sign_ = now;
    return true;
  }
  void sign_of_life(const std::string& page, Time now) {
    if (holds(page)) last_sign_ = now;
  }
  // RETURNS whether it was theirs.
  bool give_back(const std::string& page) {
    if (!holds(page)) return false;
    page_.clear();
    return true;
  }
  // RETURNS whether the holder is lost; the seat is free then. True once.
  bool is_lost(Time now) {
    return !page_.empty() && now - last_sign_ > kSilenceMax && give_back(std::string(page_));
  }

  bool holds(const std::string& page) const { return !page.empty() && page == page_; }
  bool is_taken() const { return !page_.empty(); }
  const std::string& holder() const { return page_; }

 private:
  std::string page_;
  Time last_sign_;
};

}  // namespace controller::panel
