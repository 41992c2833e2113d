// One timer for one operation after the other: an expiry that is already in the queue must not hit
// the next operation.
#include "controller/host/deadline.hpp"

#include <catch2/catch.hpp>

namespace {

using namespace controller::host;
using std::chrono::milliseconds;
using Clock = std::chrono::steady_clock;

// What a deadline is without generations: the timer's handler acts whenever it runs.
class NaiveDeadline {
 public:
  NaiveDeadline(boost::asio::io_context& context, std::function<void()> on_expiry)
      : on_expiry_(std::move(on_expiry)), timer_(context) {}
  void arm(Clock::time_point at) {
    timer_.expires_at(at);
    timer_.async_wait([this](boost::system::error_code error) {
      if (!error) on_expiry_();
    });
  }
  void disarm() { timer_.cancel(); }

 private:
  std::function<void()> on_expiry_;
  boost::asio::steady_timer timer_;
};

// The worst case, made on purpose: the reply to the first request and the expiry of its deadline
// are due in the same moment, so both handlers are queued; the reply's runs first and starts the
// second request, whose deadline is far away. RETURNS how often the second request was cancelled.
template <class AnyDeadline>
int cancelled_next_requests() {
  boost::asio::io_context context{1};
  bool second_request = false;
  int cancelled = 0;
  AnyDeadline deadline(context, [&] { cancelled += second_request ? 1 : 0; });
  const Clock::time_point past = Clock::now() - milliseconds(2);
  boost::asio::steady_timer reply(context, past);
  reply.async_wait([&](boost::system::error_code) {
    deadline.disarm();
    second_request = true;
    deadline.arm(Clock::now() + std::chrono::hours(1));
  });
  deadline.arm(past + milliseconds(1));
  for (int i = 0; i < 4; ++i) context.poll_one();
  return cancelled;
}

TEST_CASE("deadline: an expired one cannot cancel the next request", "[host][deadline]") {
  CHECK(cancelled_next_requests<Deadline>() == 0);
}

TEST_CASE("deadline: without a generation number it would", "[host][deadline]") {
  // The same scene must be able to fail, or the test above shows nothing.
  CHECK(cancelled_next_requests<NaiveDeadline>() == 1);
}

TEST_CASE("deadline: expires once, and not at all once disarmed", "[host][deadline]") {
  boost::asio::io_context context{1};
  int expired = 0;
  Deadline deadline(context, [&] { ++expired; });
  deadline.arm(Clock::now());
  context.run();
  CHECK(expired == 1);
  context.restart();
  deadline.arm(Clock::now());
  deadline.disarm();
  context.run();
  CHECK(expired == 1);
}

TEST_CASE("deadline: arming again replaces the time", "[host][deadline]") {
  boost::asio::io_context context{1};
  int expired = 0;
  Deadline deadline(context, [&] { ++expired; });
  deadline.arm(Clock::now());
  deadline.arm(Clock::now() + milliseconds(1));
  context.run();
  CHECK(expired == 1);
}

}  // namespace
