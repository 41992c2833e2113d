// The live page's server on a real socket, and the services behind it as a test's double: what gets
// through to them, and what does not.
#include <atomic>
#include <catch2/catch.hpp>
#include <chrono>
#include <thread>

#include "controller/panel/web_server.hpp"
#include "tests/support/web_client.hpp"

namespace {

using namespace controller::panel;
using Catch::Matchers::Contains;
using Catch::Matchers::StartsWith;
using protocol::Errc;
using protocol::Error;
using protocol::Result;
using test_support::WebClient;

class CountingServices final : public Services {
 public:
  Json state() override { return {{"bench", "idle"}, {"title", "<script>alert(1)</script>"}}; }
  Result<Json> look_up(const std::string& what, const Json&) override {
    if (what != "library") return Error{Errc::usage, "There is no '" + what + "'."};
    return Json{{"records", Json::array()}};
  }
  Result<std::string> document(const std::string& name) override {
    if (name != "demo") return Error{Errc::usage, "There is no '" + name + "'."};
    return std::string("<!doctype html><script>alert(1)</script>");
  }
  Result<Json> act(const std::string& what, const Json& how) override {
    ++acts;
    if (what == "fail") return Error{Errc::stopped_by_rig, "The rig has stopped."};
    if (on_act) on_act();
    return Json{{"did", what}, {"how", how}};
  }
  void stop() override { ++stops; }
  void operator_lost() override { ++lost; }

  std::function<void()> on_act;
  std::atomic<int> acts{0};
  std::atomic<int> stops{0};
  std::atomic<int> lost{0};
};

constexpr PageFile kFiles[] = {
    {"/", "text/html; charset=utf-8", "<!doctype html><title>x</title>"}};

struct Served {
  Served() {
    auto started = WebServer::start(0, services, kFiles);
    REQUIRE(started);
    server = std::move(*started);
    host = "127.0.0.1:" + std::to_string(server->port());
  }

  std::string head(const std::string& first, const std::string& more = "") const {
    return first + " HTTP/1.1\r\nHost: " + host + "\r\n" + more;
  }
  std::string post(const std::string& target, const std::string& body, const std::string& more) {
    return head("POST " + target,
                "Origin: http://" + host + "\r\nContent-Type: application/json\r\n" + more +
                    "Content-Length: " + std::to_string(body.size()) + "\r\n\r\n" + body);
  }
  std::string ask(const std::string& request) { return WebClient(server->port()).ask(request); }

  CountingServices services;
  std::unique_ptr<WebServer> server;
  std::string host;
};

std::string seat(const std::string& whose) {
  return "{\"seat\":\"" + whose + "\"}";
}

// What one page keeps from entering.
struct Page {
  explicit Page(Served& at) : served(at) {
    const std::string answer = served.ask(
        served.post("/api/enter", "{\"token\": \"" + served.server->token() + "\"}", ""));
    REQUIRE_THAT(answer, StartsWith("HTTP/1.1 200"));
    const size_t cookie_at = answer.find("springwright_session=");
    REQUIRE(cookie_at != std::string::npos);
    CHECK_THAT(answer, Contains("HttpOnly; SameSite=Strict"));
    cookie = answer.substr(cookie_at, answer.find(';', cookie_at) - cookie_at);
    const size_t key_at = answer.find("{\"key\":\"") + 8;
    key = answer.substr(key_at, answer.find('"', key_at) - key_at);
  }

  std::string said() const { return "Cookie: " + cookie + "\r\nX-Page-Key: " + key + "\r\n"; }
  std::string post(const std::string& target, const std::string& body) {
    return served.ask(served.post(target, body, said()));
  }
  std::string upgrade() const {
    return served.head("GET /live", "Origin: http://" + served.host + "\r\nCookie: " + cookie +
                                        "\r\nConnection: Upgrade\r\nUpgrade: websocket\r\n"
                                        "Sec-WebSocket-Version: 13\r\n"
                                        "Sec-WebSocket-Key: dGhlIHNhbXBsZSBub25jZQ==\r\n\r\n");
  }

  Served& served;
  std::string cookie;
  std::string key;
};

// A page with its live connection open and its first state read.
struct LivePage : Page {
  explicit LivePage(Served& at) : Page(at), live(at.server->port()) {
    REQUIRE_THAT(live.ask(upgrade()), StartsWith("HTTP/1.1 101"));
    REQUIRE(live.receive_message());
    REQUIRE(live.receive_message() == seat("free"));
    REQUIRE(live.send_message("{\"page\": \"" + key + "\"}"));
    REQUIRE(live.receive_message() == seat("free"));
  }
  WebClient live;
};

template <class Condition>
bool comes(Condition condition, int patience_ms = 5000) {
  for (int i = 0; i < patience_ms / 5 && !condition(); ++i) {
    std::this_thread::sleep_for(std::chrono::milliseconds(5));
  }
  return condition();
}

}  // namespace

TEST_CASE("page: its files, its state and its answers carry every guarding header", "[panel]") {
  Served served;
  const Page page(served);
  const std::string cookie = "Cookie: " + page.cookie + "\r\n\r\n";
  for (const auto& [request, status] :
       {std::pair("GET /", "HTTP/1.1 200"), std::pair("GET /api/state", "HTTP/1.1 200"),
        std::pair("GET /api/look_up/library", "HTTP/1.1 200"),
        std::pair("GET /api/look_up/nothing", "HTTP/1.1 404"),
        std::pair("GET /nothing", "HTTP/1.1 404")}) {
    const std::string answer = served.ask(served.head(request, cookie));
    CAPTURE(request, answer);
    CHECK_THAT(answer, StartsWith(status));
    CHECK_THAT(answer, Contains("Content-Security-Policy: default-src 'none'; script-src 'self'"));
    CHECK_THAT(answer, Contains("frame-ancestors 'none'"));
    CHECK_THAT(answer, Contains("X-Content-Type-Options: nosniff"));
    CHECK_THAT(answer, Contains("Cache-Control: no-store"));
  }
}

TEST_CASE("page: there is no way out of its own files", "[panel]") {
  Served served;
  const Page page(served);
  for (const char* target :
       {"/../../../etc/passwd", "/assets/../../etc/passwd", "/%2e%2e/%2e%2e/etc/passwd",
        "//etc/passwd", "/api/look_up/../../etc/passwd", "/./", "/?x=/etc/passwd"}) {
    const std::string answer = served.ask(
        served.head(std::string("GET ") + target, "Cookie: " + page.cookie + "\r\n\r\n"));
    CAPTURE(target);
    CHECK_THAT(answer, StartsWith("HTTP/1.1 404"));
  }
}

TEST_CASE("page: a script in a name stays text, and answers are never a page", "[panel]") {
  Served served;
  const Page page(served);
  const std::string answer =
      served.ask(served.head("GET /api/state", "Cookie: " + page.cookie + "\r\n\r\n"));
  CHECK_THAT(answer, Contains("Content-Type: application/json"));
}

TEST_CASE("page: a report runs nothing, and only whoever has entered sees it", "[panel]") {
  Served served;
  const Page page(served);
  const std::string cookie = "Cookie: " + page.cookie + "\r\n\r\n";
  const std::string answer = served.ask(served.head("GET /document/demo", cookie));
  CHECK_THAT(answer, StartsWith("HTTP/1.1 200"));
  CHECK_THAT(answer, Contains("Content-Security-Policy: sandbox; default-src 'none'"));
  CHECK_THAT(served.ask(served.head("GET /document/demo", "\r\n")), StartsWith("HTTP/1.1 401"));
  CHECK_THAT(served.ask(served.head("GET /document/../../etc/passwd", cookie)),
             StartsWith("HTTP/1.1 404"));
}

TEST_CASE("page: foreign hosts, origins, forms and guesses get nothing done", "[panel]") {
  Served served;
  Page page(served);
  REQUIRE_THAT(page.post("/api/operator", "{\"take\": true}"), StartsWith("HTTP/1.1 200"));
  const std::string good = served.post("/api/act/home", "{}", page.said());
  REQUIRE_THAT(served.ask(good), StartsWith("HTTP/1.1 200"));
  REQUIRE(served.services.acts == 1);
  const auto with = [&](const std::string& from, const std::string& to) {
    std::string changed = good;
    const size_t at = changed.find(from);
    REQUIRE(at != std::string::npos);
    return changed.replace(at, from.size(), to);
  };
  CHECK_THAT(served.ask(with("Host: " + served.host, "Host: forks.example")),
             StartsWith("HTTP/1.1 421"));
  CHECK_THAT(
      served.ask(with("Host: " + served.host, "Host: " + served.host + "\r\nHost: " + served.host)),
      StartsWith("HTTP/1.1 4"));
  CHECK_THAT(served.ask(with("Origin: http://" + served.host, "Origin: http://forks.example")),
             StartsWith("HTTP/1.1 403"));
  CHECK_THAT(served.ask(with("Origin: http://" + served.host + "\r\n", "")),
             StartsWith("HTTP/1.1 403"));
  CHECK_THAT(served.ask(with("application/json", "text/plain")), StartsWith("HTTP/1.1 415"));
  CHECK_THAT(served.ask(with(page.cookie, "springwright_session=0")), StartsWith("HTTP/1.1 401"));
  CHECK_THAT(served.ask(with(page.key, "0")), StartsWith("HTTP/1.1 403"));
  CHECK(served.services.acts == 1);
}

TEST_CASE("page: what is too long is not read to its end", "[panel]") {
  Served served;
  Page page(served);
  CHECK_THAT(page.post("/api/operator", std::string(70'000, ' ')), StartsWith("HTTP/1.1 413"));
  CHECK_THAT(served.ask(served.head("GET /", "X-Long: " + std::string(10'000, 'x') + "\r\n\r\n")),
             StartsWith("HTTP/1.1 431"));
  LivePage live(served);
  live.live.send_message(std::string(5000, ' '));
  CHECK(live.live.is_ended_within(2000));
  CHECK_THAT(served.ask(served.head("GET /", "\r\n")), StartsWith("HTTP/1.1 200"));
}

TEST_CASE("page: what is not JSON, or no object, is refused", "[panel]") {
  Served served;
  Page page(served);
  for (const char* body :
       {"", "{", "[]", "5", "{\"take\": \"yes\"}", "{\"take\": true, \"take\": false}"}) {
    CAPTURE(body);
    CHECK_THAT(page.post("/api/operator", body), StartsWith("HTTP/1.1 400"));
  }
  CHECK_THAT(served.ask(served.post("/api/enter", "{\"token\": 5}", "")),
             StartsWith("HTTP/1.1 401"));
  CHECK_THAT(served.ask(served.post("/api/enter", "{\"token\": \"x\"}", "")),
             StartsWith("HTTP/1.1 401"));
}

TEST_CASE("page: one operates, the others watch, and anyone may stop", "[panel]") {
  Served served;
  Page first(served);
  Page second(served);
  CHECK_THAT(first.post("/api/act/home", "{}"), StartsWith("HTTP/1.1 403"));
  REQUIRE_THAT(first.post("/api/operator", "{\"take\": true}"), StartsWith("HTTP/1.1 200"));
  CHECK_THAT(second.post("/api/operator", "{\"take\": true}"),
             StartsWith("HTTP/1.1 409") && Contains("this one watches"));
  CHECK_THAT(second.post("/api/act/home", "{}"), StartsWith("HTTP/1.1 403"));
  CHECK_THAT(first.post("/api/act/home", "{\"speed\": 5}"), Contains("{\"speed\":5}"));
  CHECK_THAT(first.post("/api/act/fail", "{}"),
             StartsWith("HTTP/1.1 409") && Contains("\"exit\":5"));
  CHECK(served.services.acts == 2);
  // Even with a body that is no JSON.
  CHECK_THAT(second.post("/api/stop", "now"), StartsWith("HTTP/1.1 200"));
  CHECK(served.services.stops == 1);
  REQUIRE_THAT(first.post("/api/operator", "{\"take\": false}"), StartsWith("HTTP/1.1 200"));
  CHECK(served.services.lost == 1);
  CHECK_THAT(second.post("/api/operator", "{\"take\": true}"), StartsWith("HTTP/1.1 200"));
}

TEST_CASE("page: an operator whose page closes is lost at once", "[panel]") {
  Served served;
  {
    LivePage page(served);
    REQUIRE_THAT(page.post("/api/operator", "{\"take\": true}"), StartsWith("HTTP/1.1 200"));
  }
  CHECK(comes([&] { return served.services.lost == 1; }, 1000));
  Page next(served);
  CHECK_THAT(next.post("/api/operator", "{\"take\": true}"), StartsWith("HTTP/1.1 200"));
}

TEST_CASE("page: an operator whose page falls silent is lost after two seconds, and not before",
          "[panel]") {
  Served served;
  LivePage page(served);
  REQUIRE_THAT(page.post("/api/operator", "{\"take\": true}"), StartsWith("HTTP/1.1 200"));
  const auto begin = std::chrono::steady_clock::now();
  // Signs of life keep the seat beyond its patience.
  while (std::chrono::steady_clock::now() - begin < std::chrono::milliseconds(2600)) {
    REQUIRE(page.live.send_message("{\"page\": \"" + page.key + "\"}"));
    std::this_thread::sleep_for(std::chrono::milliseconds(200));
  }
  CHECK(served.services.lost == 0);
  CHECK(comes([&] { return served.services.lost == 1; }, 4000));
}

TEST_CASE("page: another page's sign of life, or a foreign key, keeps no seat", "[panel]") {
  Served served;
  LivePage page(served);
  LivePage other(served);
  REQUIRE_THAT(page.post("/api/operator", "{\"take\": true}"), StartsWith("HTTP/1.1 200"));
  for (int i = 0; i < 15 && served.services.lost == 0; ++i) {
    other.live.send_message("{\"page\": \"" + other.key + "\"}");
    // Its browser does not own this key.
    other.live.send_message("{\"page\": \"" + page.key + "\"}");
    std::this_thread::sleep_for(std::chrono::milliseconds(200));
  }
  CHECK(served.services.lost == 1);
}

TEST_CASE("page: each page is told whose the seat is, and when it is lost", "[panel]") {
  Served served;
  LivePage page(served);
  LivePage other(served);
  REQUIRE_THAT(page.post("/api/operator", "{\"take\": true}"), StartsWith("HTTP/1.1 200"));
  CHECK(page.live.receive_message() == seat("mine"));
  CHECK(other.live.receive_message() == seat("taken"));
  // By silence.
  CHECK(page.live.receive_message() == seat("free"));
  CHECK(other.live.receive_message() == seat("free"));
  CHECK(served.services.lost == 1);
}

TEST_CASE("page: what is told first arrives first, whichever threads tell it", "[panel]") {
  Served served;
  LivePage page(served);
  REQUIRE_THAT(page.post("/api/operator", "{\"take\": true}"), StartsWith("HTTP/1.1 200"));
  CHECK(page.live.receive_message() == seat("mine"));
  served.services.on_act = [&] {
    served.server->publish(Feed::state, "{\"number\":1}");
    std::thread([&] { served.server->publish(Feed::state, "{\"number\":2}"); }).join();
  };
  REQUIRE_THAT(page.post("/api/act/home", "{}"), StartsWith("HTTP/1.1 200"));
  CHECK(page.live.receive_message() == "{\"number\":1}");
  CHECK(page.live.receive_message() == "{\"number\":2}");
}

TEST_CASE("page: a live connection is guarded as every request is", "[panel]") {
  Served served;
  const Page page(served);
  const std::string good = page.upgrade();
  const auto status = [&](const std::string& from, const std::string& to) {
    std::string changed = good;
    const size_t at = changed.find(from);
    REQUIRE(at != std::string::npos);
    return served.ask(changed.replace(at, from.size(), to)).substr(0, 12);
  };
  CHECK(served.ask(good).substr(0, 12) == "HTTP/1.1 101");
  CHECK(status("Origin: http://" + served.host, "Origin: http://forks.example") == "HTTP/1.1 403");
  CHECK(status("Origin: http://" + served.host + "\r\n", "") == "HTTP/1.1 403");
  CHECK(status("Host: " + served.host, "Host: forks.example") == "HTTP/1.1 421");
  CHECK(status(page.cookie, "springwright_session=0") == "HTTP/1.1 401");
}

TEST_CASE("page: a hundred watchers each get every state", "[panel]") {
  Served served;
  const Page page(served);
  std::vector<std::unique_ptr<WebClient>> watchers;
  for (int i = 0; i < 100; ++i) {
    watchers.push_back(std::make_unique<WebClient>(served.server->port()));
    REQUIRE_THAT(watchers.back()->ask(page.upgrade()), StartsWith("HTTP/1.1 101"));
    REQUIRE(watchers.back()->receive_message());
    REQUIRE(watchers.back()->receive_message() == seat("free"));
  }
  for (int i = 0; i < 20; ++i) {
    served.server->publish(Feed::state, "{\"number\":" + std::to_string(i) + "}");
  }
  for (const auto& watcher : watchers) {
    for (int i = 0; i < 20; ++i) {
      CHECK(watcher->receive_message().value_or("") == "{\"number\":" + std::to_string(i) + "}");
    }
  }
}

TEST_CASE("page: a watcher that reads nothing delays nobody, and is let go", "[panel]") {
  Served served;
  const Page page(served);
  WebClient slow(served.server->port());
  REQUIRE_THAT(slow.ask(page.upgrade()), StartsWith("HTTP/1.1 101"));
  WebClient quick(served.server->port());
  REQUIRE_THAT(quick.ask(page.upgrade()), StartsWith("HTTP/1.1 101"));
  REQUIRE(quick.receive_message());
  REQUIRE(quick.receive_message() == seat("free"));
  // More than the system's buffers take, twice over.
  const std::string large(256 * 1024, 'x');
  for (int i = 0; i < 80; ++i) {
    served.server->publish(Feed::points, large);
    served.server->publish(Feed::state, "{\"number\":" + std::to_string(i) + "}");
    // The quick one keeps up.
    int got = 0;
    while (got < 2) {
      const auto message = quick.receive_message(10'000);
      REQUIRE(message);
      ++got;
    }
  }
  CHECK(slow.is_ended_within(5000));
  CHECK_THAT(served.ask(served.head("GET /", "\r\n")), StartsWith("HTTP/1.1 200"));
}

TEST_CASE("page: two programs do not share a port", "[panel]") {
  Served served;
  CountingServices others;
  const auto second = WebServer::start(served.server->port(), others, kFiles);
  REQUIRE_FALSE(second.has_value());
  CHECK(second.error().code == Errc::port_taken);
  CHECK_THAT(served.server->address(), StartsWith("http://" + served.host + "/#"));
}

TEST_CASE("outbox: points give way to points, oldest first, and states never do", "[panel]") {
  const auto text = [](int number) {
    return std::make_shared<const std::string>(std::to_string(number));
  };
  Outbox outbox;
  CHECK(outbox.put(Feed::state, text(-1)));
  for (int i = 0; i < 100; ++i) CHECK(outbox.put(Feed::points, text(i)));
  CHECK(outbox.dropped() == 100 - Outbox::kPointsMax);
  CHECK(*outbox.take() == "-1");
  CHECK(*outbox.take() == "36");
  while (!outbox.is_empty()) (void)outbox.take();
  for (size_t i = 0; i < Outbox::kStatesMax; ++i) CHECK(outbox.put(Feed::state, text(0)));
  CHECK_FALSE(outbox.put(Feed::state, text(0)));
}
