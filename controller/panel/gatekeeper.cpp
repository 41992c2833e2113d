#include "controller/panel/gatekeeper.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cctype>

#include "controller/panel/secret.hpp"

namespace controller::panel {
namespace {

constexpr size_t kPagesMax = 1000;
constexpr const char* kOwnNames[] = {"127.0.0.1", "localhost", "[::1]"};

Admission refused(int status, const std::string& why) {
  return {status, why, {}};
}

std::string lower(std::string text) {
  std::transform(text.begin(), text.end(), text.begin(),
                 [](unsigned char c) { return static_cast<char>(std::tolower(c)); });
  return text;
}

bool is_json(const std::optional<std::string>& content_type) {
  if (!content_type) return false;
  std::string type = lower(content_type->substr(0, content_type->find(';')));
  while (!type.empty() && type.back() == ' ') type.pop_back();
  return type == "application/json";
}

// The value of our cookie among those of a request.
std::string cookie_value(const std::string& header) {
  const std::string name = std::string(kCookieName) + "=";
  size_t at = 0;
  while (at < header.size()) {
    while (at < header.size() && header[at] == ' ') ++at;
    const size_t end = std::min(header.find(';', at), header.size());
    if (header.compare(at, name.size(), name) == 0) {
      return header.substr(at + name.size(), end - at - name.size());
    }
    at = end + 1;
  }
  return {};
}

}  // namespace

Gatekeeper::Gatekeeper(unsigned short port, std::string token)
    : port_(port), token_(std::move(token)) {}

bool Gatekeeper::is_our_host(const std::string& host) const {
  return std::any_of(std::begin(kOwnNames), std::end(kOwnNames), [&](const char* name) {
    return lower(host) == fmt::format("{}:{}", name, port_);
  });
}

bool Gatekeeper::is_our_origin(const std::string& origin) const {
  constexpr std::string_view kScheme = "http://";
  return origin.rfind(kScheme, 0) == 0 && is_our_host(origin.substr(kScheme.size()));
}

bool Gatekeeper::is_bearer(const WebRequest& request) const {
  constexpr std::string_view kScheme = "Bearer ";
  return request.authorization && request.authorization->rfind(kScheme, 0) == 0 &&
         same_secret(request.authorization->substr(kScheme.size()), token_);
}

bool Gatekeeper::is_public(const std::string& target) {
  for (const char* guarded : {"/api/", "/document/", "/live"}) {
    if (target.rfind(guarded, 0) == 0) return target == "/api/enter";
  }
  return true;
}

Admission Gatekeeper::admit(const WebRequest& request) const {
  if (!request.host || !is_our_host(*request.host)) {
    return refused(421, "This page answers only to the address that the program printed.");
  }
  if (request.origin && !is_our_origin(*request.origin)) {
    return refused(403, "Another page may not ask this one.");
  }
  const bool script = is_bearer(request);
  if (request.method != "GET" && request.method != "POST") {
    return refused(405, "GET and POST only.");
  }
  if (request.upgrade && !request.origin && !script) {
    return refused(403, "A live connection says which page it belongs to.");
  }
  if (request.method == "POST") {
    if (!is_json(request.content_type)) return refused(415, "JSON only (application/json).");
    if (!request.origin && !script) {
      return refused(403, "A request that does something says which page it comes from.");
    }
  }
  if (script) return {0, {}, "script"};
  if (is_public(request.target)) return {};
  return admit_browser(request);
}

const std::vector<std::string>* Gatekeeper::keys_of(
    const std::optional<std::string>& cookie) const {
  const std::string value = cookie ? cookie_value(*cookie) : std::string();
  for (const auto& [browser, keys] : keys_of_browser_) {
    if (same_secret(value, browser)) return &keys;
  }
  return nullptr;
}

bool Gatekeeper::is_page(const std::optional<std::string>& cookie, const std::string& key) const {
  const std::vector<std::string>* const keys = keys_of(cookie);
  return keys != nullptr && std::any_of(keys->begin(), keys->end(), [&](const std::string& each) {
           return same_secret(each, key);
         });
}

Admission Gatekeeper::admit_browser(const WebRequest& request) const {
  if (keys_of(request.cookie) == nullptr) {
    return refused(401, "Open the page by the address that the program printed.");
  }
  if (request.method != "POST") return {};
  const std::string key = request.key.value_or("");
  if (!is_page(request.cookie, key)) {
    return refused(403, "The page's key is missing or wrong; load the page again.");
  }
  return {0, {}, key};
}

std::optional<Gatekeeper::Entry> Gatekeeper::enter(const std::string& token,
                                                   const std::optional<std::string>& cookie) {
  if (!same_secret(token, token_) || pages_ == kPagesMax) return std::nullopt;
  ++pages_;
  Entry entry{keys_of(cookie) != nullptr ? cookie_value(*cookie) : new_secret(), new_secret()};
  keys_of_browser_[entry.cookie].push_back(entry.key);
  return entry;
}

}  // namespace controller::panel
