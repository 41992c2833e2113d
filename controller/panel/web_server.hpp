// The live page on loopback: HTTP for what is asked, a WebSocket for what is told as it happens.
//
// One thread of its own, in which the services are called. Never on another interface.
#pragma once

#include <cstdint>
#include <memory>
#include <span>
#include <string>

#include "controller/panel/outbox.hpp"
#include "controller/panel/page_files.hpp"
#include "controller/panel/services.hpp"
#include "protocol/result.hpp"

namespace controller::panel {

class WebServer {
 public:
  // `port` 0: any free one. The services and the files must outlive the server. ERRORS:
  // port_taken where another program listens there.
  static protocol::Result<std::unique_ptr<WebServer>> start(uint16_t port, Services& services,
                                                            std::span<const PageFile> files);
  // Ends every connection.
  ~WebServer();

  uint16_t port() const;
  // For scripts: "Authorization: Bearer TOKEN".
  const std::string& token() const;
  // For the browser. The token stands behind the #, which is never sent.
  std::string address() const;

  // To every watcher, in the order of the calls; from any thread. `text` is one JSON object. Each
  // watcher is told besides whose the operator's seat is: {"seat": "mine", "taken" or "free"}.
  void publish(Feed feed, std::string text);

 private:
  struct Running;
  explicit WebServer(std::unique_ptr<Running> running);
  std::unique_ptr<Running> running_;
};

}  // namespace controller::panel
