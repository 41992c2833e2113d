// `springwright panel`: the bench on a screen, as a page that the program itself serves on
// loopback.
#include <fcntl.h>
#include <fmt/ostream.h>
#include <unistd.h>

#include <CLI/CLI.hpp>
#include <mutex>

#include "controller/cli/commands.hpp"
#include "controller/cli/options.hpp"
#include "controller/cli/page/panel_services.hpp"
#include "controller/cli/safety_words.hpp"
#include "controller/cli/workshop/workshop.hpp"
#include "controller/host/interrupt_key.hpp"
#include "controller/panel/built_page.hpp"
#include "controller/panel/web_server.hpp"

namespace controller::cli {
namespace {

using protocol::Errc;
using protocol::Error;
using protocol::Result;

struct PanelOptions {
  BenchOptions bench;
  int port = 0;
  std::string virtual_faults;
  bool open = false;
  bool json = false;
};

// By what the desktop has for that. Where it fails the address stands on the terminal.
void open_browser(const std::string& address) {
  const pid_t child = fork();
  if (child != 0) return;
  const int nowhere = open("/dev/null", O_WRONLY | O_CLOEXEC);
  dup2(nowhere, STDOUT_FILENO);
  dup2(nowhere, STDERR_FILENO);
  execlp("xdg-open", "xdg-open", address.c_str(), nullptr);
  _exit(127);
}

// The bench tells from a thread of its own, and begins before the server and ends after it.
class Publisher {
 public:
  void set(panel::WebServer* server) {
    const std::lock_guard lock(mutex_);
    server_ = server;
  }
  void publish(panel::Feed feed, const protocol::Json& told) {
    const std::lock_guard lock(mutex_);
    if (server_ == nullptr) return;
    server_->publish(feed, told.dump(-1, ' ', false, protocol::Json::error_handler_t::replace));
  }

 private:
  std::mutex mutex_;
  panel::WebServer* server_ = nullptr;
};

Result<void> run_panel(const PanelOptions& options, Console& console) {
  const std::span<const panel::PageFile> page = panel::built_page();
  if (page.empty()) {
    return Error{Errc::usage,
                 "This program was built without its page: Node.js and npm were missing then, or "
                 "could not fetch what the page is built with. Install them and build again."};
  }
  const auto faults = virtual_rig::parse_faults(options.virtual_faults);
  if (!faults) return faults.error();
  const std::filesystem::path here = std::filesystem::current_path();
  const std::filesystem::path workshop = find_workshop(here).value_or(here);
  host::InterruptKey key;
  Publisher publisher;
  PanelServices services(workshop, options.bench, *faults,
                         [&publisher](panel::Feed feed, const protocol::Json& told) {
                           publisher.publish(feed, told);
                         });
  Result<std::unique_ptr<panel::WebServer>> started =
      panel::WebServer::start(static_cast<uint16_t>(options.port), services, page);
  if (!started) return started.error();
  const std::unique_ptr<panel::WebServer> server = std::move(started).value();
  publisher.set(server.get());
  fmt::print(console.err, "{}\n\n", kSafetyWords);
  if (options.json) {
    console.out << protocol::json_text(
        {{"address", server->address()}, {"port", server->port()}, {"token", server->token()}});
  } else {
    fmt::print(console.out, "{}\n", server->address());
  }
  console.out.flush();
  fmt::print(console.err,
             "Open this address in a browser on this computer; whoever has it can move the rig. "
             "Ctrl-C ends.\n");
  if (options.open) open_browser(server->address());
  key.wait();
  services.stop();
  publisher.set(nullptr);
  return {};
}

}  // namespace

void add_panel(Commands& commands) {
  auto [app, options] = commands.add<PanelOptions>(
      "panel", "The bench on a screen: a page for a laptop or tablet beside the rig.", run_panel);
  add_bench_options(app, options.bench);
  app.add_option("--port", options.port, "Where on this computer (not said: any free port)")
      ->check(CLI::Range(0, 65535));
  app.add_flag("--open", options.open, "Open the address in this computer's browser");
  add_json(app, options.json);
  app.add_option("--virtual-faults", options.virtual_faults,
                 "What goes wrong with a virtual rig, as for sweep")
      ->option_text("KIND@WHEN,...");
  add_examples(app, {"springwright panel", "springwright panel --rig /dev/ttyUSB0 --port 8080"});
}

}  // namespace controller::cli
