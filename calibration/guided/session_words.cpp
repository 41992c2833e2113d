// What a guided session says: its prompts, and the remarks that go into the certificate.
#include <fmt/format.h>

#include <cmath>

#include "calibration/guided/session.hpp"

namespace calibration {
namespace {

std::string weights_words(double load, double now, LoadUnit unit) {
  const std::string all = load_text(load, unit);
  if (load == 0.0) return now > 0.0 ? "take everything off" : "leave everything off";
  if (load > now) {
    return now > 0.0 ? fmt::format("put on {} in all (add {})", all, load_text(load - now, unit))
                     : fmt::format("put on {}", all);
  }
  if (load == now) return fmt::format("leave {} on", all);
  return fmt::format("leave {} on (take {} off)", all, load_text(now - load, unit));
}

std::string loading_words(const GuidedPlan& plan, const GuidedStep& step, double now) {
  const std::string load = load_text(step.load, plan.unit);
  switch (plan.kind) {
    case Kind::travel:
      return fmt::format("the carriage goes to {}; type what the dial or block says", load);
    case Kind::frame:
      return fmt::format("the rig presses to {}", load);
    case Kind::force:
      break;
  }
  if (plan.unit == LoadUnit::kilogram) return weights_words(step.load, now, plan.unit);
  if (step.load == 0.0) return "take the load off, and type what the transducer shows";
  return fmt::format("load to about {}, and type what the transducer shows", load);
}

}  // namespace

std::string GuidedSession::step_words(const GuidedStep& step) const {
  return fmt::format("Series {} of {}{}", step.series, plan_.series,
                     !plan_.descending                         ? ""
                     : step.direction == Direction::descending ? ", down"
                                                               : ", up");
}

Prompt GuidedSession::prompt() const {
  ENSURE(!is_done());
  Prompt out;
  out.asked = asked();
  out.step = static_cast<int>(entries_.size()) + 1;
  out.steps = steps();
  out.can_skip = taken() > 0;
  out.can_undo = !entries_.empty();
  // What hangs there now is what was taken last, in whichever series.
  double now = 0.0;
  for (const Entry& entry : entries_) {
    if (entry.is_taken) now = entry.load;
  }
  out.text = fmt::format("{}: {}.", step_words(out.asked), loading_words(plan_, out.asked, now));
  return out;
}

ReadingSet GuidedSession::readings() const {
  ReadingSet set;
  set.kind = plan_.kind;
  int series = 0;
  for (size_t i = 0; i < entries_.size(); ++i) {
    const Entry& entry = entries_[i];
    const GuidedStep& step = steps_[i];
    if (!entry.is_taken) {
      set.remarks.push_back(
          fmt::format("{}: {} was left out.", step_words(step), load_text(step.load, plan_.unit)));
      continue;
    }
    if (plan_.unit == LoadUnit::kilogram && entry.load != step.load) {
      set.remarks.push_back(fmt::format("{}: {} was put on where {} was planned.", step_words(step),
                                        load_text(entry.load, plan_.unit),
                                        load_text(step.load, plan_.unit)));
    }
    Reading reading;
    reading.series = step.series;
    reading.direction = step.direction;
    reading.reading = plan_.kind == Kind::frame ? entry.load : entry.reading;
    reading.reference = plan_.kind == Kind::frame    ? entry.reading
                        : plan_.kind == Kind::travel ? entry.load * 1e-3
                                                     : entry.load;
    if (plan_.unit == LoadUnit::kilogram) reading.load_kg = entry.load;
    set.readings.push_back(reading);
    series = step.series;
  }
  set.remarks.push_back(fmt::format("Taken in a guided session of {} series, {} readings.", series,
                                    set.readings.size()));
  return set;
}

}  // namespace calibration
