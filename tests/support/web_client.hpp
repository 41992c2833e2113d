// A plain client of the live page: bytes on a socket, so that a test can say what no browser would.
#pragma once

#include <arpa/inet.h>
#include <poll.h>
#include <sys/socket.h>
#include <unistd.h>

#include <cstdint>
#include <optional>
#include <stdexcept>
#include <string>

namespace test_support {

class WebClient {
 public:
  explicit WebClient(uint16_t port) : fd_(::socket(AF_INET, SOCK_STREAM | SOCK_CLOEXEC, 0)) {
    sockaddr_in address{};
    address.sin_family = AF_INET;
    address.sin_port = htons(port);
    address.sin_addr.s_addr = htonl(INADDR_LOOPBACK);
    if (::connect(fd_, reinterpret_cast<const sockaddr*>(&address), sizeof address) != 0) {
      throw std::runtime_error("cannot connect");
    }
  }
  ~WebClient() { ::close(fd_); }
  WebClient(const WebClient&) = delete;
  WebClient& operator=(const WebClient&) = delete;

  // RETURNS false where the other side has gone.
  bool send(const std::string& bytes) {
    size_t sent = 0;
    while (sent < bytes.size()) {
      const ssize_t size = ::send(fd_, bytes.data() + sent, bytes.size() - sent, MSG_NOSIGNAL);
      if (size <= 0) return false;
      sent += static_cast<size_t>(size);
    }
    return true;
  }

  // One whole answer; empty where none came within `patience_ms`, or the other side has gone.
  std::string receive_answer(int patience_ms = 5000) {
    while (true) {
      const size_t head = buffer_.find("\r\n\r\n");
      if (head != std::string::npos) {
        const size_t length = content_length(buffer_.substr(0, head));
        if (buffer_.size() >= head + 4 + length) return take(head + 4 + length);
      }
      if (!read_more(patience_ms)) return {};
    }
  }
  std::string ask(const std::string& request, int patience_ms = 5000) {
    return send(request) ? receive_answer(patience_ms) : std::string();
  }

  // A text message to the other side of a WebSocket; a client's are masked.
  bool send_message(const std::string& text) {
    std::string frame = "\x81";
    if (text.size() < 126) {
      frame += static_cast<char>(0x80u | text.size());
    } else {
      frame += static_cast<char>(0x80u | 126u);
      frame += static_cast<char>(text.size() >> 8);
      frame += static_cast<char>(text.size() & 0xFFu);
    }
    frame += std::string(4, '\0');  // a mask of zeros leaves the text as it is
    return send(frame + text);
  }
  // The next message; empty where none came in time, or the connection ended.
  std::optional<std::string> receive_message(int patience_ms = 5000) {
    while (true) {
      size_t head = 2;
      if (buffer_.size() >= head) {
        size_t length = static_cast<unsigned char>(buffer_[1]) & 0x7Fu;
        const size_t more = length == 126 ? 2 : length == 127 ? 8 : 0;
        head += more;
        if (more != 0 && buffer_.size() >= head) {
          length = 0;
          for (size_t i = 2; i < head; ++i) {
            length = (length << 8) | static_cast<unsigned char>(buffer_[i]);
          }
        }
        if (buffer_.size() >= head && buffer_.size() >= head + length) {
          const bool is_text = (static_cast<unsigned char>(buffer_[0]) & 0x0Fu) == 1;
          const std::string frame = take(head + length);
          if (!is_text) return std::nullopt;
          return frame.substr(head);
        }
      }
      if (!read_more(patience_ms)) return std::nullopt;
    }
  }

  // Whether the other side ends the connection.
  bool is_ended_within(int patience_ms) {
    while (read_more(patience_ms)) {
    }
    return ended_;
  }

 private:
  static size_t content_length(const std::string& head) {
    const size_t at = head.find("Content-Length: ");
    return at == std::string::npos ? 0 : std::stoul(head.substr(at + 16));
  }
  std::string take(size_t size) {
    const std::string taken = buffer_.substr(0, size);
    buffer_.erase(0, size);
    return taken;
  }
  bool read_more(int patience_ms) {
    pollfd waited{fd_, POLLIN, 0};
    if (::poll(&waited, 1, patience_ms) <= 0) return false;
    char bytes[65536];
    const ssize_t size = ::recv(fd_, bytes, sizeof bytes, 0);
    if (size <= 0) {
      ended_ = true;
      return false;
    }
    buffer_.append(bytes, static_cast<size_t>(size));
    return true;
  }

  int fd_;
  std::string buffer_;
  bool ended_ = false;
};

}  // namespace test_support
