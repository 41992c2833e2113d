#include "calibration/guided/journal.hpp"

#include <fmt/format.h>

#include "protocol/record/json_fields.hpp"

namespace calibration {

using protocol::Errc;
using protocol::Error;
using protocol::FileSystem;
using protocol::Json;
using protocol::JsonFields;
using protocol::OutputFile;
using protocol::Result;

namespace {

constexpr int64_t kVersion = 1;
constexpr std::string_view kSkip = "skip", kUndo = "undo", kRepeat = "repeat_series";

Result<GuidedPlan> read_plan(const Json& json, const std::string& place) {
  JsonFields fields(json, place);
  (void)fields.integer("springwright_session", kVersion, kVersion);
  GuidedPlan plan;
  // In the order of their enumerators.
  plan.kind = static_cast<Kind>(fields.word("kind", {"force", "travel", "frame"}));
  plan.unit = static_cast<LoadUnit>(fields.word("unit", {"kg", "N", "mm"}));
  plan.loads = fields.numbers("loads");
  plan.series = static_cast<int>(fields.integer("series", 1, 1000));
  plan.descending = fields.boolean("descending");
  if (const Result<void> done = fields.finish(); !done) return done.error();
  return plan;
}

Result<GuidedEvent> read_event(const Json& json, const std::string& place) {
  JsonFields fields(json, place);
  GuidedEvent event;
  if (json.contains(kSkip)) {
    event.what = GuidedEvent::What::skip;
    (void)fields.boolean(kSkip);
  } else if (json.contains(kUndo)) {
    event.what = GuidedEvent::What::undo;
    (void)fields.boolean(kUndo);
  } else if (json.contains(kRepeat)) {
    event.what = GuidedEvent::What::repeat_series;
    (void)fields.boolean(kRepeat);
  } else {
    event.load = fields.number("take");
    event.reading = fields.number("reading");
    event.noise = fields.number("noise");
  }
  if (const Result<void> done = fields.finish(); !done) return done.error();
  return event;
}

// One object on one line.
Result<Json> read_line(std::string_view line, const std::string& place) {
  Result<Json> json = protocol::parse_json(line, place);
  if (json && !json->is_object()) {
    return Error{Errc::input_malformed, fmt::format("{}: not an object in braces.", place)};
  }
  return json;
}

Result<void> apply_line(GuidedSession& session, std::string_view line, const std::string& place) {
  const Result<Json> json = read_line(line, place);
  if (!json) return json.error();
  const Result<GuidedEvent> event = read_event(*json, place);
  if (!event) return event.error();
  const Result<void> applied = session.apply(*event);
  if (!applied) return protocol::at(place, applied.error());
  return {};
}

}  // namespace

std::string journal_line(const GuidedPlan& plan) {
  const Json json = {{"springwright_session", kVersion},
                     {"kind", kind_name(plan.kind)},
                     {"unit", load_unit_name(plan.unit)},
                     {"loads", plan.loads},
                     {"series", plan.series},
                     {"descending", plan.descending}};
  return json.dump() + "\n";
}

std::string journal_line(const GuidedEvent& event) {
  Json json;
  switch (event.what) {
    case GuidedEvent::What::take:
      json = {{"take", event.load}, {"reading", event.reading}, {"noise", event.noise}};
      break;
    case GuidedEvent::What::skip:
      json[std::string(kSkip)] = true;
      break;
    case GuidedEvent::What::undo:
      json[std::string(kUndo)] = true;
      break;
    case GuidedEvent::What::repeat_series:
      json[std::string(kRepeat)] = true;
      break;
  }
  return json.dump() + "\n";
}

Result<ResumedSession> resume_session(const std::string& text, const std::string& name) {
  std::optional<GuidedSession> session;
  size_t begin = 0;
  for (int number = 1;; ++number) {
    const size_t end = text.find('\n', begin);
    if (end == std::string::npos) break;
    const std::string place = fmt::format("{}:{}", name, number);
    const std::string_view line = std::string_view(text).substr(begin, end - begin);
    if (!session) {
      const Result<Json> json = read_line(line, place);
      if (!json) return json.error();
      const Result<GuidedPlan> plan = read_plan(*json, place);
      if (!plan) return plan.error();
      Result<GuidedSession> started = GuidedSession::start(*plan);
      if (!started) return protocol::at(place, started.error());
      session = std::move(started).value();
    } else if (const Result<void> applied = apply_line(*session, line, place); !applied) {
      return applied.error();
    }
    begin = end + 1;
  }
  if (!session) {
    return Error{Errc::input_malformed,
                 fmt::format("{}: no whole line of a guided session is in it; delete it and begin "
                             "anew.",
                             name)};
  }
  return ResumedSession{std::move(*session), text.substr(0, begin), begin < text.size()};
}

Result<SessionJournal> SessionJournal::start(FileSystem& files, const std::filesystem::path& path,
                                             const GuidedPlan& plan) {
  Result<std::unique_ptr<OutputFile>> file = files.create(path);
  if (!file) return file.error();
  SessionJournal journal(std::move(file).value());
  if (const auto done = journal.file_->append(journal_line(plan)); !done) return done.error();
  if (const auto done = journal.file_->sync(); !done) return done.error();
  if (const auto done = files.sync_folder(protocol::folder_of(path)); !done) return done.error();
  return journal;
}

// The whole lines go into a new file that takes the old one's place and stays open: at no moment is
// there none.
Result<SessionJournal> SessionJournal::go_on(FileSystem& files, const std::filesystem::path& path,
                                             const std::string& text) {
  std::filesystem::path fresh = path;
  fresh += ".new";
  if (files.exists(fresh)) {
    if (const auto done = files.remove(fresh); !done) return done.error();
  }
  Result<std::unique_ptr<OutputFile>> file = files.create(fresh);
  if (!file) return file.error();
  SessionJournal journal(std::move(file).value());
  if (const auto done = journal.file_->append(text); !done) return done.error();
  if (const auto done = journal.file_->sync(); !done) return done.error();
  if (const auto done = files.rename(fresh, path); !done) return done.error();
  if (const auto done = files.sync_folder(protocol::folder_of(path)); !done) return done.error();
  return journal;
}

Result<void> SessionJournal::append(const GuidedEvent& event) {
  if (const Result<void> done = file_->append(journal_line(event)); !done) return done.error();
  return file_->sync();
}

}  // namespace calibration
