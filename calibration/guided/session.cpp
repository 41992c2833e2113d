#include "calibration/guided/session.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <set>

namespace calibration {

using protocol::Errc;
using protocol::Error;
using protocol::Result;

Result<GuidedSession> GuidedSession::start(const GuidedPlan& plan) {
  if (const Result<void> checked = check_plan(plan); !checked) return checked.error();
  GuidedSession session;
  session.plan_ = plan;
  session.steps_ = steps_of(plan);
  return session;
}

StabilityRules GuidedSession::stability_rules() const {
  StabilityRules rules;
  rules.unit = reading_unit(plan_.kind);
  if (plan_.kind == Kind::frame) rules.step = 0.05;  // N, finer than any cell of this size repeats
  if (plan_.kind != Kind::force) {
    rules.lowest = -1e12;
    rules.highest = 1e12;
  }
  for (const Entry& entry : entries_) {
    if (!entry.is_taken) continue;
    rules.noise = entry.noise;
    break;
  }
  return rules;
}

// --- Taking -------------------------------------------------------------------------------------

Outcome GuidedSession::accept(const std::vector<WindowSample>& window,
                              std::optional<double> typed) {
  ENSURE(!is_done() && plan_.kind != Kind::frame);
  refused_.reset();
  if (is_typed(plan_) && !typed) {
    return refuse(Refusal::no_value,
                  fmt::format("Type what the standard shows, in {}.", load_unit_name(plan_.unit)));
  }
  const Stability stability = judge_stability(window, stability_rules());
  if (!stability.is_stable()) return refuse(Refusal::unstable, stability.reason);
  return judge(stability, is_typed(plan_) ? *typed : asked().load, false);
}

Outcome GuidedSession::use(double load) {
  if (is_done() || !refused_) {
    return refuse(Refusal::no_value,
                  "There is no reading that waits to be used; press Enter to take one.");
  }
  return judge(Stability(*refused_), load, true);
}

Outcome GuidedSession::accept_deflection(const std::vector<WindowSample>& window_N,
                                         double deflection_m) {
  ENSURE(!is_done() && plan_.kind == Kind::frame);
  const Stability stability = judge_stability(window_N, stability_rules());
  if (!stability.is_stable()) return refuse(Refusal::unstable, stability.reason);
  const Entry* const before = last_taken_of_series();
  if (stability.mean <= (before ? before->load : 0.0)) {
    return refuse(Refusal::out_of_order,
                  fmt::format("The force did not rise: {:.1f} N after {:.1f} N. Does the block sit "
                              "firmly?",
                              stability.mean, before ? before->load : 0.0));
  }
  return take(stability.mean, deflection_m, stability.standard_deviation);
}

Outcome GuidedSession::judge(const Stability& stability, double load, bool is_insisted) {
  refused_ = stability;
  // A screw's nominal pitch is good to far better than this; a slip of a digit is not.
  const double place_mm = asked().load;
  if (plan_.kind == Kind::travel && std::abs(load - place_mm) > 1.0 + 0.05 * place_mm) {
    return refuse(Refusal::other_load,
                  fmt::format("The carriage was sent to {}, and {} was typed. Read the dial again; "
                              "was it zeroed at home?",
                              load_text(place_mm, plan_.unit), load_text(load, plan_.unit)));
  }
  if (std::string wrong = out_of_order(load); !wrong.empty()) {
    return refuse(Refusal::out_of_order, std::move(wrong));
  }
  LoadQuestion question;
  question.taken = loads_taken();
  question.load = load;
  question.reading = stability.mean;
  question.standard_error = stability.standard_error;
  question.smallest_step = smallest_step(plan_);
  question.unit = plan_.unit;
  question.is_typed = is_typed(plan_);
  question.sign_is_meant = is_insisted;
  LoadVerdict verdict = judge_load(question);
  if (verdict.why == Refusal::none) return take(load, stability.mean, stability.standard_deviation);
  Outcome out = refuse(verdict.why, std::move(verdict.text));
  const bool can_be_said = !is_typed(plan_) || out.why == Refusal::sign_reversed;
  if (verdict.looks_like && can_be_said && out_of_order(*verdict.looks_like).empty()) {
    out.can_use = verdict.looks_like;
    out.text += fmt::format(" To take it as it is, say: use {}.",
                            load_text(*verdict.looks_like, plan_.unit));
  }
  return out;
}

Outcome GuidedSession::take(double load, double reading, double noise) {
  entries_.push_back({true, load, reading, noise});
  refused_.reset();
  Outcome out;
  out.accepted = true;
  out.event = GuidedEvent{GuidedEvent::What::take, load, reading, noise};
  const std::string under = load_text(load, plan_.unit);
  switch (plan_.kind) {
    case Kind::force:
      out.text = fmt::format("Taken: {:.1f} counts under {}.", reading, under);
      break;
    case Kind::travel:
      out.text = fmt::format("Taken: {:.0f} steps at {}.", reading, under);
      break;
    case Kind::frame:
      out.text = fmt::format("Taken: {:.1f} N, {:.4f} mm.", load, reading * 1e3);
      break;
  }
  return out;
}

Outcome GuidedSession::refuse(Refusal why, std::string text) const {
  Outcome out;
  out.why = why;
  out.text = std::move(text);
  return out;
}

// Up a series must rise and down it must fall, past the loads still to come. A typed value lies
// beside the load that was asked for, and is only held to the one before.
std::string GuidedSession::out_of_order(double load) const {
  if (!(load >= 0.0) && plan_.unit == LoadUnit::kilogram) return "A load is zero or more.";
  const GuidedStep& step = asked();
  const bool up = step.direction == Direction::ascending;
  const Entry* const before = last_taken_of_series();
  const bool turns =
      !up && entries_.size() > 0 && steps_[entries_.size() - 1].direction != step.direction;
  if (before && !(up ? load > before->load : load < before->load) &&
      !(turns && load == before->load)) {
    return fmt::format(
        "{} after {} breaks the order of a series that goes {}. Undo (u) what was "
        "wrong, or repeat the series (r).",
        load_text(load, plan_.unit), load_text(before->load, plan_.unit), up ? "up" : "down");
  }
  const size_t after = entries_.size() + 1;
  if (is_typed(plan_) || after >= steps_.size() || steps_[after].direction != step.direction ||
      steps_[after].series != step.series) {
    return {};
  }
  const double next = steps_[after].load;
  if (up ? load < next : load > next) return {};
  return fmt::format("{} is too far: {} comes next.", load_text(load, plan_.unit),
                     load_text(next, plan_.unit));
}

const GuidedSession::Entry* GuidedSession::last_taken_of_series() const {
  for (size_t i = entries_.size(); i-- > 0;) {
    if (steps_[i].series != asked().series) return nullptr;
    if (entries_[i].is_taken) return &entries_[i];
  }
  return nullptr;
}

std::vector<LoadReading> GuidedSession::loads_taken() const {
  std::vector<LoadReading> out;
  for (const Entry& entry : entries_) {
    if (entry.is_taken) out.push_back({entry.load, entry.reading});
  }
  return out;
}

int GuidedSession::taken() const {
  return static_cast<int>(std::count_if(entries_.begin(), entries_.end(),
                                        [](const Entry& entry) { return entry.is_taken; }));
}

// --- Going another way --------------------------------------------------------------------------

Result<GuidedEvent> GuidedSession::skip() {
  if (is_done()) return Error{Errc::input_out_of_range, "There is no load left to leave out."};
  if (taken() == 0) {
    return Error{Errc::input_out_of_range,
                 "The first reading cannot be left out: the others are judged against it."};
  }
  std::set<double> planned;
  for (size_t i = 0; i < steps_.size(); ++i) {
    if (i == entries_.size() || (i < entries_.size() && !entries_[i].is_taken)) continue;
    planned.insert(steps_[i].load);
  }
  if (planned.size() < kGuidedLoadsMin) {
    return Error{Errc::input_out_of_range,
                 fmt::format("Without {} only {} different loads remain, and {} are needed.",
                             load_text(asked().load, plan_.unit), planned.size(), kGuidedLoadsMin)};
  }
  entries_.push_back({});
  refused_.reset();
  return GuidedEvent{GuidedEvent::What::skip};
}

Result<GuidedEvent> GuidedSession::undo() {
  if (entries_.empty()) return Error{Errc::input_out_of_range, "There is nothing to undo yet."};
  entries_.pop_back();
  refused_.reset();
  return GuidedEvent{GuidedEvent::What::undo};
}

Result<GuidedEvent> GuidedSession::repeat_series() {
  // At a first step the series before is meant.
  if (entries_.empty()) return Error{Errc::input_out_of_range, "There is nothing to repeat yet."};
  const int series = steps_[entries_.size() - 1].series;
  while (!entries_.empty() && steps_[entries_.size() - 1].series == series) entries_.pop_back();
  refused_.reset();
  return GuidedEvent{GuidedEvent::What::repeat_series};
}

Result<void> GuidedSession::apply(const GuidedEvent& event) {
  const auto empty = [](const Result<GuidedEvent>& done) -> Result<void> {
    if (done) return {};
    return Error{Errc::input_malformed, done.error().message};
  };
  switch (event.what) {
    case GuidedEvent::What::skip:
      return empty(skip());
    case GuidedEvent::What::undo:
      return empty(undo());
    case GuidedEvent::What::repeat_series:
      return empty(repeat_series());
    case GuidedEvent::What::take:
      break;
  }
  if (is_done()) return Error{Errc::input_malformed, "a reading after the last step."};
  if (!std::isfinite(event.load) || !std::isfinite(event.reading) || !(event.noise >= 0.0)) {
    return Error{Errc::input_malformed, "a reading that is not a number."};
  }
  (void)take(event.load, event.reading, event.noise);
  return {};
}

}  // namespace calibration
