#include "controller/host/top_out.hpp"

#include <fmt/format.h>

#include <cmath>

#include "calibration/instrument.hpp"

namespace controller::host {

using protocol::Coupling;
using protocol::Errc;
using protocol::Error;
using protocol::Result;

namespace {

Result<int32_t> feel(Press& press, const TouchPlan& plan, const char* what) {
  const Result<std::optional<int32_t>> felt = press.touch(plan);
  if (!felt) return felt.error();
  if (*felt) return **felt;
  return Error{Errc::stopped_by_guard,
               fmt::format("{} was not felt: {:.0f} N did not come within {:.0f} mm. Is the fork "
                           "mounted, and the load cell connected?",
                           what, plan.threshold_N, plan.way_max_m * 1e3)};
}

}  // namespace

Result<void> wait_for(Press& press, Operator& person, const std::string& what,
                      const std::string& refusal) {
  person.ask(what);
  Answer answer = Answer::pending;
  const Result<void> done = press.wait_until([&] {
    answer = person.answer(std::chrono::milliseconds(0));
    return answer != Answer::pending;
  });
  if (!done) return done;
  if (answer == Answer::done) return {};
  return Error{Errc::stopped_by_operator, refusal};
}

Result<TopOut> find_top_out(Press& press, const TopOutSettings& settings, Operator& person) {
  TopOut found;
  const Result<ZeroReading> zero = press.read_zero(settings.zero_samples);
  if (!zero) return zero.error();
  found.zero = *zero;
  Instruments& instruments = press.instruments();
  instruments.zero_counts = zero->counts;

  const Result<int32_t> contact =
      feel(press, {settings.contact_N, settings.approach_speed_m_s, settings.approach_way_max_m},
           "The fork");
  if (!contact) return contact.error();
  if (settings.coupling == Coupling::push) {
    instruments.zero_steps = *contact;
    instruments.doubt.travel_zero_m =
        std::hypot(instruments.doubt.travel_zero_m, settings.push_doubt_m);
    return found;
  }

  const Result<void> clamped = wait_for(press, person, "Clamp the axle.");
  if (!clamped) return clamped.error();
  const Result<int32_t> stop =
      feel(press, {-settings.pull_N, settings.pull_speed_m_s, settings.pull_way_max_m},
           "The fork's top-out stop");
  if (!stop) return stop.error();
  // Under the pull the frame gives a little: the fork's own travel is zero there, the carriage's
  // is not quite.
  const double give_m =
      instruments.frame ? calibration::apply(*instruments.frame, -settings.pull_N) : 0.0;
  instruments.zero_steps = *stop - give_m * instruments.steps_per_m();
  return found;
}

Result<ZeroReading> read_zero_again(Press& press, const TopOutSettings& settings,
                                    Operator& person) {
  if (settings.coupling == Coupling::clamped) {
    const Result<void> open = wait_for(press, person, "Open the axle clamp.");
    if (!open) return open.error();
  }
  const Result<int32_t> home = press.home();
  if (!home) return home.error();
  return press.read_zero(settings.zero_samples);
}

}  // namespace controller::host
