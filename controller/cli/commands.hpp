// The frame of the command line: how a command enters the program, and how one is chosen and run.
//
// To add a command "weigh":
//   1. controller/cli/FOLDER/weigh.cpp defines
//          struct WeighOptions {...};                                   what the user may say
//          Result<void> run_weigh(const WeighOptions&, Console&);       does it
//          void add_weigh(Commands& commands) {
//            auto [app, options] = commands.add<WeighOptions>("weigh", "One line.", run_weigh);
//            app.add_option(...); add_quantity(app, "--load", ...);     options.hpp has helpers
//            add_examples(app, {"springwright weigh --load \"430 N\""});
//          }
//   2. declare add_weigh below and call it in add_commands (commands.cpp);
//   3. list it in CMakeLists.txt, with what it links.
//
// Answers go to console.out, progress and warnings to console.err. A file is opened by the command
// itself, never checked by the option parser, so that a missing file ends with exit code 3. A
// command that has printed its answer may still return an Error, which sets the exit code. Every
// command takes --quiet, and then its console.err goes nowhere, and --verbose, for which detail()
// is.
#pragma once

#include <memory>
#include <ostream>
#include <string>
#include <vector>

#include "protocol/result.hpp"

namespace CLI {
class App;
}

namespace controller::cli {

class Correspondent;

// Where a command speaks to.
struct Console {
  std::ostream& out;                       // the answer
  std::ostream& err;                       // progress and warnings
  bool err_is_terminal = false;            // a progress bar is welcome
  bool verbose = false;                    // details are welcome
  Correspondent* correspondent = nullptr;  // answers in place of the keyboard
  bool is_quiet = false;                   // and nobody can be asked
};

template <class Options>
struct AddedCommand {
  CLI::App& app;
  Options& options;
};

// Every command with its options. Owned by main; outlives the parsing and the run.
class Commands {
 public:
  explicit Commands(CLI::App& root) : root_(root) {}

  // `parent` is for a command of two words ("calibrate force"): the app of the first word, made by
  // add_group.
  template <class Options>
  AddedCommand<Options> add(const std::string& name, const std::string& summary,
                            protocol::Result<void> (*run)(const Options&, Console&),
                            CLI::App* parent = nullptr) {
    auto command = std::make_unique<Command<Options>>();
    command->app = &make_app(parent ? *parent : root_, name, summary);
    command->function = run;
    add_volume(*command->app);
    AddedCommand<Options> added{*command->app, command->options};
    commands_.push_back(std::move(command));
    return added;
  }

  // The first word of commands of two words.
  CLI::App& add_group(const std::string& name, const std::string& summary);

  const CLI::App& root() const { return root_; }

  // Runs the command that was chosen. ERRORS: usage where none was; else the command's own.
  protocol::Result<void> run_chosen(Console& console);

 private:
  struct AnyCommand {
    virtual ~AnyCommand() = default;
    virtual protocol::Result<void> run(Console& console) const = 0;
    CLI::App* app = nullptr;
  };
  template <class Options>
  struct Command final : AnyCommand {
    protocol::Result<void> run(Console& console) const override {
      return function(options, console);
    }
    Options options;
    protocol::Result<void> (*function)(const Options&, Console&) = nullptr;
  };

  void add_volume(CLI::App& app);
  static CLI::App& make_app(CLI::App& parent, const std::string& name, const std::string& summary);

  CLI::App& root_;
  bool quiet_ = false;
  bool verbose_ = false;
  std::vector<std::unique_ptr<AnyCommand>> commands_;
};

void add_init(Commands& commands);
void add_calibrate(Commands& commands);
void add_rig(Commands& commands);
void add_sweep(Commands& commands);
void add_plan(Commands& commands);
void add_import(Commands& commands);
void add_export(Commands& commands);
void add_list(Commands& commands);
void add_mark(Commands& commands);
void add_curve(Commands& commands);
void add_compare(Commands& commands);
void add_ridden(Commands& commands);
void add_report(Commands& commands);
void add_fit(Commands& commands);
void add_advise(Commands& commands);
void add_predict(Commands& commands);
void add_panel(Commands& commands);
void add_demo(Commands& commands);
void add_manual(Commands& commands);
void add_complete(Commands& commands);

// All of them, in the order of --help.
void add_commands(Commands& commands);

// A line for whoever asked for details.
void detail(Console& console, const std::string& line);

// What a person may want to do next; a script is not told.
void suggest(Console& console, const std::string& next);

// Reads the command line and runs what it asks for. Returns the process exit code.
int run_command_line(int argc, const char* const* argv, Console& console);

}  // namespace controller::cli
