// A guided session on disk, line by line, so that neither Ctrl-C nor a power cut loses a reading.
//
//   {"springwright_session":1,"kind":"force","unit":"kg","loads":[0,5,10],"series":3,"descending":true}
//   {"take":5.0,"reading":82311.2,"noise":1004.1}
//   {"skip":true} {"undo":true} {"repeat_series":true}      each on a line of its own
//
// Each line is synced before the next step is asked for. A last line without its line feed was torn
// and is dropped; anything else that is wrong is refused with its line.
#pragma once

#include <filesystem>
#include <memory>
#include <string>

#include "calibration/guided/session.hpp"
#include "protocol/record/file_system.hpp"

namespace calibration {

// With the line feed.
std::string journal_line(const GuidedPlan& plan);
std::string journal_line(const GuidedEvent& event);

struct ResumedSession {
  GuidedSession session;
  std::string text;  // the whole lines
  bool dropped_torn_line = false;
};

// ERRORS: input_malformed with `name` and line.
protocol::Result<ResumedSession> resume_session(const std::string& text, const std::string& name);

class SessionJournal {
 public:
  // A new one. ERRORS: output_exists, write_failed.
  static protocol::Result<SessionJournal> start(protocol::FileSystem& files,
                                                const std::filesystem::path& path,
                                                const GuidedPlan& plan);
  // Goes on with the whole lines of the old one. ERRORS: write_failed.
  static protocol::Result<SessionJournal> go_on(protocol::FileSystem& files,
                                                const std::filesystem::path& path,
                                                const std::string& text);

  // RETURNS once it is on the disk. ERRORS: write_failed.
  protocol::Result<void> append(const GuidedEvent& event);

 private:
  explicit SessionJournal(std::unique_ptr<protocol::OutputFile> file) : file_(std::move(file)) {}

  std::unique_ptr<protocol::OutputFile> file_;
};

}  // namespace calibration
