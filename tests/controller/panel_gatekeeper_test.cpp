// Who may ask what of the live page, without a socket. Each rule is tried alone: all else is in
// order, so that the request passes where its guard is taken away.
#include <catch2/catch.hpp>

#include "controller/panel/gatekeeper.hpp"

namespace {

using namespace controller::panel;

constexpr unsigned short kPort = 4321;
const std::string kToken = "a-token-that-nobody-guesses";

// A page that has entered, and its next request.
struct Page {
  Page() : keeper(kPort, kToken) {
    const auto entry = keeper.enter(kToken, std::nullopt);
    REQUIRE(entry);
    request.method = "POST";
    request.target = "/api/act/home";
    request.host = "127.0.0.1:4321";
    request.origin = "http://127.0.0.1:4321";
    request.content_type = "application/json";
    request.cookie = "springwright_session=" + entry->cookie;
    request.key = entry->key;
  }
  int status() const { return keeper.admit(request).status; }

  Gatekeeper keeper;
  WebRequest request;
};

}  // namespace

TEST_CASE("gatekeeper: a page of ours is let in and known by its key", "[panel]") {
  const Page page;
  const Admission admission = page.keeper.admit(page.request);
  CHECK(admission.status == 0);
  CHECK(admission.page == *page.request.key);
}

TEST_CASE("gatekeeper: a foreign name that was bound to this computer is refused", "[panel]") {
  Page page;
  for (const char* host :
       {"forks.example:4321", "127.0.0.1:80", "127.0.0.1", "localhost.forks.example:4321",
        "127.0.0.1:4321.forks.example", "", "127.0.0.2:4321", "[::1]:432"}) {
    CAPTURE(host);
    page.request.host = host;
    page.request.origin = "http://" + std::string(host);  // both alike, as rebinding makes them
    CHECK(page.status() == 421);
  }
  page.request.host.reset();
  CHECK(page.status() == 421);
  // On every request, the page's own files included.
  page.request.method = "GET";
  page.request.target = "/";
  CHECK(page.status() == 421);
}

TEST_CASE("gatekeeper: our own names are three, in any case of letters", "[panel]") {
  Page page;
  for (const char* host : {"127.0.0.1:4321", "localhost:4321", "LOCALHOST:4321", "[::1]:4321"}) {
    CAPTURE(host);
    page.request.host = host;
    CHECK(page.status() == 0);
  }
}

TEST_CASE("gatekeeper: another page's request is refused, whatever else it brings", "[panel]") {
  Page page;
  for (const char* origin :
       {"http://forks.example", "https://127.0.0.1:4321", "http://127.0.0.1:4322", "null", "",
        "http://127.0.0.1:4321.forks.example", "http://127.0.0.1:4321/"}) {
    CAPTURE(origin);
    page.request.origin = origin;
    CHECK(page.status() == 403);
  }
  page.request.origin = "http://localhost:4321";
  CHECK(page.status() == 0);
}

TEST_CASE("gatekeeper: what does something says where it comes from", "[panel]") {
  Page page;
  page.request.origin.reset();
  CHECK(page.status() == 403);
  page.request.method = "GET";
  CHECK(page.status() == 0);
  page.request.target = "/live";
  page.request.upgrade = true;
  CHECK(page.status() == 403);
  page.request.origin = "http://127.0.0.1:4321";
  CHECK(page.status() == 0);
}

TEST_CASE("gatekeeper: a form cannot send what is taken", "[panel]") {
  Page page;
  for (const char* type :
       {"text/plain", "application/x-www-form-urlencoded", "multipart/form-data; boundary=x",
        "application/jsonp", "", "text/plain; application/json"}) {
    CAPTURE(type);
    page.request.content_type = type;
    CHECK(page.status() == 415);
  }
  page.request.content_type.reset();
  CHECK(page.status() == 415);
  page.request.content_type = "Application/JSON; charset=utf-8";
  CHECK(page.status() == 0);
}

TEST_CASE("gatekeeper: without having entered nobody learns anything", "[panel]") {
  Page page;
  page.request.method = "GET";
  page.request.target = "/api/state";
  const std::string good = *page.request.cookie;
  for (const std::string& cookie :
       {std::string(), std::string("springwright_session="), good + "0",
        good.substr(0, good.size() - 1), "other" + good, std::string("springwright_session")}) {
    CAPTURE(cookie);
    page.request.cookie = cookie;
    CHECK(page.status() == 401);
  }
  page.request.cookie.reset();
  CHECK(page.status() == 401);
  page.request.cookie = "theme=dark; " + good + "; other=1";
  CHECK(page.status() == 0);
  // The page itself holds no secret, and there must be a way in.
  page.request.cookie.reset();
  page.request.target = "/assets/page.js";
  CHECK(page.status() == 0);
  page.request.target = "/api/enter";
  page.request.method = "POST";
  CHECK(page.status() == 0);
}

TEST_CASE("gatekeeper: a cookie alone does nothing without the page's key", "[panel]") {
  Page page;
  const std::string good = *page.request.key;
  for (const std::string& key : {std::string(), good + "0", good.substr(1)}) {
    page.request.key = key;
    CHECK(page.status() == 403);
  }
  page.request.key.reset();
  CHECK(page.status() == 403);
  // Nor is another browser's key good.
  const auto other = page.keeper.enter(kToken, std::nullopt);
  REQUIRE(other);
  page.request.key = other->key;
  CHECK(page.status() == 403);
}

TEST_CASE("gatekeeper: a second page of a browser has its cookie and a key of its own", "[panel]") {
  Page page;
  const auto second = page.keeper.enter(kToken, page.request.cookie);
  REQUIRE(second);
  CHECK("springwright_session=" + second->cookie == *page.request.cookie);
  CHECK(second->key != *page.request.key);
  CHECK(page.status() == 0);
  page.request.key = second->key;
  CHECK(page.keeper.admit(page.request).page == second->key);
}

TEST_CASE("gatekeeper: nobody enters with a wrong token, nor do endless pages", "[panel]") {
  Gatekeeper keeper(kPort, kToken);
  for (const std::string& token : {std::string(), kToken + "x", kToken.substr(1)}) {
    CHECK_FALSE(keeper.enter(token, std::nullopt));
  }
  int entered = 0;
  while (entered < 100'000 && keeper.enter(kToken, std::nullopt)) ++entered;
  CHECK(entered == 1000);
}

TEST_CASE("gatekeeper: a script comes with the token, and with neither page nor cookie",
          "[panel]") {
  Page page;
  page.request.cookie.reset();
  page.request.key.reset();
  page.request.origin.reset();
  page.request.authorization = "Bearer " + kToken;
  CHECK(page.status() == 0);
  page.request.authorization = "Bearer " + kToken + "x";
  CHECK(page.status() == 403);
  page.request.authorization = kToken;
  CHECK(page.status() == 403);
  // Not from a foreign page, token or not.
  page.request.authorization = "Bearer " + kToken;
  page.request.origin = "http://forks.example";
  CHECK(page.status() == 403);
}

TEST_CASE("gatekeeper: other methods are refused", "[panel]") {
  Page page;
  for (const char* method : {"PUT", "DELETE", "OPTIONS", "HEAD", "get", "CONNECT"}) {
    page.request.method = method;
    CHECK(page.status() == 405);
  }
}
