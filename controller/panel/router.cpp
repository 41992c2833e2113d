#include "controller/panel/router.hpp"

#include <fmt/format.h>

namespace controller::panel {
namespace {

using protocol::Errc;
using protocol::Error;
using protocol::Result;

constexpr std::string_view kLookUp = "/api/look_up/";
constexpr std::string_view kDocument = "/document/";
constexpr std::string_view kAct = "/api/act/";

WebAnswer json_answer(const Json& json, int status = 200) {
  WebAnswer answer;
  answer.status = status;
  // Text that is not UTF-8, such as a file's name, is shown with a mark in its place.
  answer.body = json.dump(-1, ' ', false, Json::error_handler_t::replace);
  return answer;
}

WebAnswer refusal(int status, const std::string& why) {
  return json_answer({{"error", why}}, status);
}

// By whose fault it is: what was asked, or what the bench and the disk made of it.
WebAnswer failure(const Error& error) {
  const protocol::ExitCode exit = protocol::exit_code(error.code);
  const int status = exit == protocol::ExitCode::usage ? 404 : 409;
  return json_answer({{"error", error.message}, {"exit", static_cast<int>(exit)}}, status);
}

WebAnswer result_answer(const Result<Json>& result) {
  return result ? json_answer(*result) : failure(result.error());
}

// RETURNS the rest of the target behind the prefix, where it has one.
std::optional<std::string> behind(const std::string& target, std::string_view prefix) {
  if (target.rfind(prefix, 0) != 0) return std::nullopt;
  return target.substr(prefix.size());
}

}  // namespace

const std::vector<std::pair<std::string, std::string>>& guarding_headers() {
  static const std::vector<std::pair<std::string, std::string>> kHeaders = {
      {"Content-Security-Policy",
       "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data:; "
       "connect-src 'self'; base-uri 'none'; form-action 'none'; frame-ancestors 'none'"},
      {"X-Content-Type-Options", "nosniff"},
      {"Referrer-Policy", "no-referrer"},
      {"Cross-Origin-Opener-Policy", "same-origin"},
      {"Cross-Origin-Resource-Policy", "same-origin"},
      {"Cache-Control", "no-store"},
  };
  return kHeaders;
}

WebAnswer Router::answer(const WebRequest& request, OperatorSeat::Time now) {
  const Admission admission = gatekeeper_.admit(request);
  if (admission.status != 0) return refusal(admission.status, admission.why);
  return request.method == "POST" ? answer_post(request, admission.page, now) : answer_get(request);
}

WebAnswer Router::answer_get(const WebRequest& request) {
  for (const PageFile& file : files_) {
    if (request.target != file.target) continue;
    return {200, std::string(file.content_type), std::string(file.content), {}};
  }
  if (request.target == "/api/state") return json_answer(services_.state());
  if (const auto what = behind(request.target, kLookUp)) {
    return result_answer(services_.look_up(*what, Json::object()));
  }
  if (const auto name = behind(request.target, kDocument)) return document(*name);
  return refusal(404, "There is nothing here.");
}

// A report holds its style and its figures in itself. It runs nothing and reaches nothing, and what
// it shows is not of this page's origin.
WebAnswer Router::document(const std::string& name) {
  const Result<std::string> html = services_.document(name);
  if (!html) return failure(html.error());
  return {200,
          "text/html; charset=utf-8",
          *html,
          {{"Content-Security-Policy",
            "sandbox; default-src 'none'; style-src 'unsafe-inline'; img-src data:; "
            "frame-ancestors 'none'"}}};
}

WebAnswer Router::answer_post(const WebRequest& request, const std::string& page,
                              OperatorSeat::Time now) {
  // Before anything else, and whatever its body says.
  if (request.target == "/api/stop") {
    services_.stop();
    return json_answer({{"stopping", true}});
  }
  const Result<Json> said = protocol::parse_json(request.body, "the request");
  if (!said || !said->is_object()) {
    return refusal(400, said ? "An object is wanted." : said.error().message);
  }
  if (request.target == "/api/enter") return enter(*said, request.cookie);
  if (request.target == "/api/operator") return take_seat(*said, page, now);
  if (const auto what = behind(request.target, kLookUp)) {
    return result_answer(services_.look_up(*what, *said));
  }
  if (const auto what = behind(request.target, kAct)) return act(*what, *said, page);
  return refusal(404, "There is nothing here.");
}

WebAnswer Router::enter(const Json& said, const std::optional<std::string>& cookie) {
  const auto token = said.find("token");
  const bool is_text = token != said.end() && token->is_string();
  const auto entry = is_text ? gatekeeper_.enter(token->get<std::string>(), cookie) : std::nullopt;
  if (!entry) return refusal(401, "Open the page by the address that the program printed.");
  WebAnswer answer = json_answer({{"key", entry->key}});
  answer.headers.emplace_back("Set-Cookie", fmt::format("{}={}; Path=/; HttpOnly; SameSite=Strict",
                                                        kCookieName, entry->cookie));
  return answer;
}

WebAnswer Router::take_seat(const Json& said, const std::string& page, OperatorSeat::Time now) {
  const auto take = said.find("take");
  if (take == said.end() || !take->is_boolean()) {
    return refusal(400, "\"take\" is true or false.");
  }
  if (!take->get<bool>()) {
    if (seat_.give_back(page)) services_.operator_lost();
    return json_answer({{"operator", false}});
  }
  if (!seat_.take(page, now)) {
    return refusal(409, "Another page operates the rig; this one watches. Stop works from here.");
  }
  return json_answer({{"operator", true}});
}

WebAnswer Router::act(const std::string& what, const Json& how, const std::string& page) {
  if (!seat_.holds(page)) {
    return refusal(403, "Only the page that operates the rig may do this.");
  }
  return result_answer(services_.act(what, how));
}

}  // namespace controller::panel
