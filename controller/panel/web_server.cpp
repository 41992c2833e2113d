#include "controller/panel/web_server.hpp"

#include <fmt/format.h>

#include <deque>
#include <mutex>
#include <optional>
#include <set>
#include <thread>

#include "controller/panel/beast.hpp"
#include "controller/panel/router.hpp"
#include "controller/panel/secret.hpp"

namespace controller::panel {

namespace asio = boost::asio;
namespace beast = boost::beast;
namespace http = boost::beast::http;
namespace websocket = boost::beast::websocket;
using asio::ip::tcp;
using boost::system::error_code;
using protocol::Errc;
using protocol::Error;
using protocol::Result;
using Socket = websocket::stream<tcp::socket>;

namespace {

constexpr size_t kConnectionsMax = 300;
constexpr size_t kHeaderMax_bytes = 8 * 1024;
constexpr size_t kBodyMax_bytes = 64 * 1024;
constexpr size_t kMessageMax_bytes = 4 * 1024;  // what a page says on its live connection
constexpr std::chrono::seconds kRequestPatience{10};
constexpr std::chrono::milliseconds kLook{100};

// A header that must be there once; given twice it might be read as either.
template <class Fields>
std::optional<std::string> only(const Fields& fields, beast::string_view name) {
  if (fields.count(name) != 1) return std::nullopt;
  return std::string(fields.at(name));
}

WebRequest plain(const http::request<http::string_body>& request) {
  WebRequest out;
  out.method = std::string(request.method_string());
  out.target = std::string(request.target());
  out.host = only(request, "Host");
  // Two origins are not none.
  out.origin = request.count("Origin") > 1 ? "twice" : only(request, "Origin");
  out.content_type = only(request, "Content-Type");
  out.authorization = only(request, "Authorization");
  out.cookie = only(request, "Cookie");
  out.key = only(request, "X-Page-Key");
  out.upgrade = websocket::is_upgrade(request);
  out.body = request.body();
  return out;
}

http::response<http::string_body> rendered(const WebAnswer& answer, bool keep_alive) {
  http::response<http::string_body> out(static_cast<http::status>(answer.status), 11);
  for (const auto& [name, value] : guarding_headers()) out.set(name, value);
  for (const auto& [name, value] : answer.headers) out.set(name, value);
  out.set(http::field::content_type, answer.content_type);
  out.keep_alive(keep_alive);
  out.body() = answer.body;
  out.prepare_payload();
  return out;
}

WebAnswer too_much(int status) {
  return {status, "application/json", R"({"error":"That is more than this page takes."})", {}};
}

// One page that watches.
struct Watcher {
  Watcher(tcp::socket socket, asio::io_context& context, std::optional<std::string> its_cookie)
      : stream(std::move(socket)), news(context), cookie(std::move(its_cookie)) {}

  void put(Feed feed, const Outbox::Text& text) {
    if (!outbox.put(feed, text)) return close();
    news.cancel();
  }
  void close() {
    closed = true;
    error_code ignored;
    beast::get_lowest_layer(stream).close(ignored);
    news.cancel();
  }

  Socket stream;
  asio::steady_timer news;  // cancelled where there is something to send
  Outbox outbox;
  std::optional<std::string> cookie;
  std::string page;  // once it has said so
  bool closed = false;
};
using WatcherPtr = std::shared_ptr<Watcher>;

}  // namespace

struct WebServer::Running {
  Running(Services& all_services, std::span<const PageFile> page_files)
      : services(all_services), files(page_files) {}

  error_code listen(uint16_t wanted);
  void run();
  void stop();

  asio::awaitable<void> accept();
  asio::awaitable<void> serve(tcp::socket socket);
  asio::awaitable<void> watch(tcp::socket socket, http::request<http::string_body> request);
  asio::awaitable<void> hear(WatcherPtr watcher);
  asio::awaitable<void> tell(WatcherPtr watcher);
  asio::awaitable<void> mind_operator();
  void heard(Watcher& watcher, const std::string& text);
  void left(const WatcherPtr& watcher);
  void publish(Feed feed, std::string text);
  void tell_published();
  Outbox::Text seat_words(const Watcher& watcher) const;
  void tell_seat();

  // A connection that fails is over, and nobody else's matter. What is our own mistake ends the
  // program as anywhere else.
  void spawn(asio::awaitable<void> work) {
    asio::co_spawn(context, std::move(work), [](const std::exception_ptr& failure) {
      if (failure) std::rethrow_exception(failure);
    });
  }

  Services& services;
  std::span<const PageFile> files;
  // Before the context: connections that are still open end with it.
  size_t connections = 0;
  asio::io_context context{1};
  tcp::acceptor acceptor{context};
  asio::steady_timer look{context};
  uint16_t port = 0;
  std::string token = new_secret();
  std::optional<Gatekeeper> gatekeeper;
  OperatorSeat seat;
  std::optional<Router> router;
  std::string told_holder;  // whose the seat was when it was told last
  std::set<WatcherPtr> watchers;
  // What was published and is not told yet, in its order: the context would hand what its own
  // thread posts behind what another posts later.
  std::mutex published_mutex;
  std::deque<std::pair<Feed, Outbox::Text>> published;
  std::thread thread;
};

error_code WebServer::Running::listen(uint16_t wanted) {
  error_code error;
  const tcp::endpoint here(asio::ip::address_v4::loopback(), wanted);
  acceptor.open(here.protocol(), error);
  if (!error) acceptor.set_option(tcp::acceptor::reuse_address(true), error);
  if (!error) acceptor.bind(here, error);
  if (!error) acceptor.listen(asio::socket_base::max_listen_connections, error);
  if (error) return error;
  port = acceptor.local_endpoint().port();
  gatekeeper.emplace(port, token);
  router.emplace(*gatekeeper, seat, services, files);
  return {};
}

void WebServer::Running::run() {
  spawn(accept());
  spawn(mind_operator());
  thread = std::thread([this] { context.run(); });
}

void WebServer::Running::stop() {
  context.stop();
  if (thread.joinable()) thread.join();
}

asio::awaitable<void> WebServer::Running::accept() {
  for (;;) {
    error_code error;
    tcp::socket socket =
        co_await acceptor.async_accept(asio::redirect_error(asio::use_awaitable, error));
    if (error == asio::error::operation_aborted) co_return;
    // One too many is let go at once, so that it cannot keep the others out.
    if (error || connections >= kConnectionsMax) continue;
    spawn(serve(std::move(socket)));
  }
}

asio::awaitable<void> WebServer::Running::serve(tcp::socket socket) {
  struct Count {
    explicit Count(size_t& counted) : count(counted) { ++count; }
    ~Count() { --count; }
    size_t& count;
  } const counted(connections);
  beast::tcp_stream stream(std::move(socket));
  beast::flat_buffer buffer;
  for (;;) {
    error_code error;
    http::request_parser<http::string_body> parser;
    parser.header_limit(kHeaderMax_bytes);
    parser.body_limit(kBodyMax_bytes);
    stream.expires_after(kRequestPatience);
    co_await http::async_read(stream, buffer, parser,
                              asio::redirect_error(asio::use_awaitable, error));
    const bool long_header = error == http::error::header_limit;
    const bool long_body = error == http::error::body_limit;
    if (error && !long_header && !long_body) co_return;
    WebAnswer answer;
    bool keep_alive = false;
    if (error) {
      answer = too_much(long_header ? 431 : 413);
    } else {
      const WebRequest request = plain(parser.get());
      keep_alive = parser.get().keep_alive();
      if (request.upgrade && request.target == "/live") {
        const Admission admission = gatekeeper->admit(request);
        if (admission.status == 0) {
          stream.expires_never();
          co_await watch(stream.release_socket(), parser.release());
          co_return;
        }
      }
      answer = router->answer(request, std::chrono::steady_clock::now());
      tell_seat();
    }
    const auto response = rendered(answer, keep_alive);
    stream.expires_after(kRequestPatience);
    co_await http::async_write(stream, response, asio::redirect_error(asio::use_awaitable, error));
    if (error || !keep_alive) co_return;
  }
}

asio::awaitable<void> WebServer::Running::watch(tcp::socket socket,
                                                http::request<http::string_body> request) {
  const auto watcher =
      std::make_shared<Watcher>(std::move(socket), context, only(request, "Cookie"));
  // Signs of life are the page's own; the library's time-outs are far longer than a rig may wait.
  websocket::stream_base::timeout patience{kRequestPatience, websocket::stream_base::none(), false};
  watcher->stream.set_option(patience);
  watcher->stream.read_message_max(kMessageMax_bytes);
  watcher->stream.text(true);
  watcher->stream.auto_fragment(false);
  error_code error;
  co_await watcher->stream.async_accept(request, asio::redirect_error(asio::use_awaitable, error));
  if (error) co_return;
  watchers.insert(watcher);
  watcher->put(Feed::state, std::make_shared<const std::string>(services.state().dump(
                                -1, ' ', false, Json::error_handler_t::replace)));
  watcher->put(Feed::state, seat_words(*watcher));
  spawn(tell(watcher));
  co_await hear(watcher);
  left(watcher);
}

asio::awaitable<void> WebServer::Running::hear(WatcherPtr watcher) {
  for (;;) {
    beast::flat_buffer buffer;
    error_code error;
    co_await watcher->stream.async_read(buffer, asio::redirect_error(asio::use_awaitable, error));
    if (error) co_return;
    heard(*watcher, beast::buffers_to_string(buffer.data()));
  }
}

// {"page": KEY}, once and then twice a second: whose the connection is, and that it lives.
void WebServer::Running::heard(Watcher& watcher, const std::string& text) {
  const Result<Json> said = protocol::parse_json(text, "the page");
  if (!said || !said->is_object()) return;
  const auto key = said->find("page");
  if (key == said->end() || !key->is_string()) return;
  if (!gatekeeper->is_page(watcher.cookie, key->get<std::string>())) return;
  const bool is_new = watcher.page.empty();
  watcher.page = key->get<std::string>();
  seat.sign_of_life(watcher.page, std::chrono::steady_clock::now());
  if (is_new) watcher.put(Feed::state, seat_words(watcher));
}

void WebServer::Running::left(const WatcherPtr& watcher) {
  watcher->close();
  watchers.erase(watcher);
  if (seat.give_back(watcher->page)) services.operator_lost();
  tell_seat();
}

asio::awaitable<void> WebServer::Running::tell(WatcherPtr watcher) {
  while (!watcher->closed) {
    error_code error;
    if (watcher->outbox.is_empty()) {
      watcher->news.expires_after(std::chrono::hours(1));
      co_await watcher->news.async_wait(asio::redirect_error(asio::use_awaitable, error));
      continue;
    }
    const Outbox::Text text = watcher->outbox.take();
    co_await watcher->stream.async_write(asio::buffer(*text),
                                         asio::redirect_error(asio::use_awaitable, error));
    if (error) co_return watcher->close();
  }
}

asio::awaitable<void> WebServer::Running::mind_operator() {
  for (;;) {
    error_code error;
    look.expires_after(kLook);
    co_await look.async_wait(asio::redirect_error(asio::use_awaitable, error));
    if (error) co_return;
    if (seat.is_lost(std::chrono::steady_clock::now())) services.operator_lost();
    tell_seat();
  }
}

// From any thread.
void WebServer::Running::publish(Feed feed, std::string text) {
  {
    const std::lock_guard lock(published_mutex);
    published.emplace_back(feed, std::make_shared<const std::string>(std::move(text)));
  }
  asio::post(context, [this] { tell_published(); });
}

void WebServer::Running::tell_published() {
  std::deque<std::pair<Feed, Outbox::Text>> news;
  {
    const std::lock_guard lock(published_mutex);
    news.swap(published);
  }
  // A watcher that is let go leaves the set when its reading ends, not within this loop.
  for (const auto& [feed, text] : news) {
    for (const WatcherPtr& watcher : watchers) watcher->put(feed, text);
  }
}

// Whose the seat is, as this watcher sees it: "mine", "taken" by another, or "free".
Outbox::Text WebServer::Running::seat_words(const Watcher& watcher) const {
  const char* const word = seat.holds(watcher.page) ? "mine" : seat.is_taken() ? "taken" : "free";
  return std::make_shared<const std::string>(fmt::format(R"({{"seat":"{}"}})", word));
}

// To everybody, once it has changed hands.
void WebServer::Running::tell_seat() {
  if (seat.holder() == told_holder) return;
  told_holder = seat.holder();
  for (const WatcherPtr& watcher : watchers) watcher->put(Feed::state, seat_words(*watcher));
}

WebServer::WebServer(std::unique_ptr<Running> running) : running_(std::move(running)) {}

WebServer::~WebServer() {
  running_->stop();
}

Result<std::unique_ptr<WebServer>> WebServer::start(uint16_t port, Services& services,
                                                    std::span<const PageFile> files) {
  auto running = std::make_unique<Running>(services, files);
  const error_code error = running->listen(port);
  if (error) {
    return Error{Errc::port_taken,
                 fmt::format("The page cannot be served at port {}: {}. Choose another --port, or "
                             "none for a free one.",
                             port, error.message())};
  }
  running->run();
  return std::unique_ptr<WebServer>(new WebServer(std::move(running)));
}

uint16_t WebServer::port() const {
  return running_->port;
}

const std::string& WebServer::token() const {
  return running_->token;
}

std::string WebServer::address() const {
  return fmt::format("http://127.0.0.1:{}/#{}", port(), token());
}

void WebServer::publish(Feed feed, std::string text) {
  running_->publish(feed, std::move(text));
}

}  // namespace controller::panel
