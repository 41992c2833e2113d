// Who may ask what. Any page that the operator visits can reach a port on the same computer, so
// being on loopback protects nothing; these rules do, each on every request, in this order:
//
//   Host       one of our own names with our port: keeps off a foreign name that was bound to us
//   Origin     if there is one, one of our own; a WebSocket must have one, unless a script asks
//   method     GET or POST
//   POST       JSON only, which no foreign form can send without asking first; of our own origin,
//              unless a script asks
//   browser    all but the page's own files and its entering: a cookie from entering with the
//              token, or the token itself as a bearer (a script)
//   page       a POST by cookie repeats the key that entering told its page; each tab has its own
//
// Knows no socket and no clock. One thread.
#pragma once

#include <map>
#include <optional>
#include <string>

#include "controller/panel/web_request.hpp"

namespace controller::panel {

inline constexpr const char* kCookieName = "springwright_session";

// What was decided. `status` 0: let in.
struct Admission {
  int status = 0;
  std::string why;
  std::string page;  // its key, which is also its name; empty: not said
};

class Gatekeeper {
 public:
  // The port is known once the server listens.
  Gatekeeper(unsigned short port, std::string token);

  Admission admit(const WebRequest& request) const;

  struct Entry {
    std::string cookie;  // the browser's secret
    std::string key;     // the page's
  };
  // A further page of a browser keeps its cookie. RETURNS empty where the token is wrong, or too
  // many pages have entered.
  std::optional<Entry> enter(const std::string& token, const std::optional<std::string>& cookie);

  // Whether a key belongs to a page of the browser that sent this cookie header.
  bool is_page(const std::optional<std::string>& cookie, const std::string& key) const;

  // Files of the page itself and the way in.
  static bool is_public(const std::string& target);

 private:
  Admission admit_browser(const WebRequest& request) const;
  const std::vector<std::string>* keys_of(const std::optional<std::string>& cookie) const;
  bool is_our_host(const std::string& host) const;
  bool is_our_origin(const std::string& origin) const;
  bool is_bearer(const WebRequest& request) const;

  unsigned short port_;
  std::string token_;
  std::map<std::string, std::vector<std::string>> keys_of_browser_;
  size_t pages_ = 0;
};

}  // namespace controller::panel
