// A request and its answer as plain values, so that every rule about them can be tried without a
// socket.
#pragma once

#include <optional>
#include <string>
#include <utility>
#include <vector>

namespace controller::panel {

struct WebRequest {
  std::string method;  // "GET"
  std::string target;  // "/api/state"
  std::optional<std::string> host;
  std::optional<std::string> origin;
  std::optional<std::string> content_type;
  std::optional<std::string> authorization;
  std::optional<std::string> cookie;
  std::optional<std::string> key;  // the header that a page repeats its key in
  bool upgrade = false;            // to a WebSocket
  std::string body;
};

struct WebAnswer {
  int status = 200;
  std::string content_type = "application/json";
  std::string body;
  std::vector<std::pair<std::string, std::string>> headers;
};

}  // namespace controller::panel
