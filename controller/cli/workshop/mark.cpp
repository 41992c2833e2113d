// `springwright mark`: the operator's word on a record, added to its metadata. Its rows stay as
// they are.
#include <fmt/ostream.h>

#include <CLI/CLI.hpp>
#include <string>
#include <vector>

#include "controller/cli/commands.hpp"
#include "controller/cli/options.hpp"
#include "protocol/record/file_system.hpp"
#include "protocol/record/metadata_json.hpp"
#include "protocol/record/record_edit.hpp"

namespace controller::cli {
namespace {

using protocol::Errc;
using protocol::Error;
using protocol::Result;

struct MarkOptions {
  std::string record;
  protocol::RecordEdit edit;
  bool json = false;
};

Result<void> run_mark(const MarkOptions& options, Console& console) {
  const protocol::RecordEdit& edit = options.edit;
  if (edit.remarks.empty() && !edit.unusable_reason && !edit.usable) {
    return Error{Errc::usage, "nothing to mark; give --remark, --unusable or --usable."};
  }
  protocol::DiskFileSystem files;
  const Result<protocol::Metadata> marked = protocol::edit_record(files, options.record, edit);
  if (!marked) return marked.error();
  if (options.json) {
    console.out << protocol::json_text({{"record", options.record},
                                        {"usable", marked->unusable_reason.empty()},
                                        {"unusable_reason", marked->unusable_reason},
                                        {"remarks", marked->remarks}});
  } else {
    fmt::print(
        console.out, "Marked {}: {}, {} remark{}.\n", options.record,
        marked->unusable_reason.empty() ? "usable" : "unusable (" + marked->unusable_reason + ")",
        marked->remarks.size(), marked->remarks.size() == 1 ? "" : "s");
  }
  return {};
}

}  // namespace

void add_mark(Commands& commands) {
  auto [app, options] = commands.add<MarkOptions>(
      "mark", "Add a remark to a record, or rule it out or in.", run_mark);
  app.add_option("record", options.record, "The record's CSV file")
      ->required()
      ->type_name("RECORD.csv");
  app.add_option("--remark", options.edit.remarks, "A sentence to keep with the record")
      ->type_name("TEXT")
      ->expected(1)
      ->multi_option_policy(CLI::MultiOptionPolicy::TakeAll)
      ->allow_extra_args(false);
  CLI::Option* unusable =
      app.add_option("--unusable", options.edit.unusable_reason, "Rule the record out, and say why")
          ->type_name("REASON");
  app.add_flag("--usable", options.edit.usable, "Take that back")->excludes(unusable);
  add_json(app, options.json);
  add_examples(app, {"springwright mark sweeps/larch-81.csv --remark \"second mounting\"",
                     "springwright mark sweeps/larch-81.csv --unusable \"the axle clamp slipped\"",
                     "springwright mark sweeps/larch-81.csv --usable"});
}

}  // namespace controller::cli
