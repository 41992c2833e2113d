#include "fitting/report/html.hpp"

#include <algorithm>
#include <array>
#include <cstdint>

#include "fitting/report/figure_text.hpp"
#include "protocol/error.hpp"

namespace fitting::html {
namespace {

bool is_name(std::string_view name) {
  return !name.empty() && std::all_of(name.begin(), name.end(), [](char c) {
    return (c >= 'a' && c <= 'z') || (c >= '0' && c <= '9') || c == '-';
  });
}

// Elements that never have content.
bool is_void(std::string_view tag) {
  constexpr std::array<std::string_view, 7> kVoid = {"br",   "col",  "hr",    "img",
                                                     "link", "meta", "source"};
  return std::find(kVoid.begin(), kVoid.end(), tag) != kVoid.end();
}

}  // namespace

Node Node::text(std::string_view text) {
  Node node;
  node.content_ = text;
  return node;
}

Node Node::element(std::string tag, std::vector<Attribute> attributes, std::vector<Node> children) {
  ENSURE(is_name(tag) && tag != "script" && tag != "style");
  for (const auto& attribute : attributes) ENSURE(is_name(attribute.first));
  ENSURE(children.empty() || !is_void(tag));
  Node node;
  node.kind_ = Kind::element;
  node.content_ = std::move(tag);
  node.attributes_ = std::move(attributes);
  node.children_ = std::move(children);
  return node;
}

Node Node::style(std::string_view css) {
  ENSURE(css.find_first_of("<&") == std::string_view::npos);
  Node node;
  node.kind_ = Kind::style;
  node.content_ = css;
  return node;
}

Node& Node::add(Node child) {
  ENSURE(kind_ == Kind::element && !is_void(content_));
  children_.push_back(std::move(child));
  return *this;
}

void Node::write(std::string& out) const {
  switch (kind_) {
    case Kind::text:
      out += escaped(content_);
      return;
    case Kind::style:
      out += "<style>" + content_ + "</style>";
      return;
    case Kind::element:
      break;
  }
  out += "<" + content_;
  for (const auto& [name, value] : attributes_) {
    out += " " + name + "=\"" + escaped(value) + "\"";
  }
  if (is_void(content_)) {
    out += " />";
    return;
  }
  out += ">";
  for (const auto& child : children_) child.write(out);
  out += "</" + content_ + ">";
}

Node text_element(std::string tag, std::string_view text, std::vector<Attribute> attributes) {
  return Node::element(std::move(tag), std::move(attributes), {Node::text(text)});
}

std::string document(const Node& root) {
  std::string out = "<!DOCTYPE html>\n";
  root.write(out);
  return out + "\n";
}

std::string escaped(std::string_view text) {
  std::string out;
  for (char c : one_line(text)) {
    switch (c) {
      case '&':
        out += "&amp;";
        break;
      case '<':
        out += "&lt;";
        break;
      case '>':
        out += "&gt;";
        break;
      case '"':
        out += "&quot;";
        break;
      case '\'':
        out += "&#39;";
        break;
      default:
        out += c;
    }
  }
  return out;
}

std::string base64(std::string_view bytes) {
  constexpr std::string_view kAlphabet =
      "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+/";
  std::string out;
  out.reserve((bytes.size() + 2) / 3 * 4);
  for (std::size_t at = 0; at < bytes.size(); at += 3) {
    const std::size_t count = std::min<std::size_t>(3, bytes.size() - at);
    uint32_t group = 0;
    for (std::size_t i = 0; i < 3; ++i) {
      group = group << 8 | (i < count ? static_cast<uint8_t>(bytes[at + i]) : 0U);
    }
    for (std::size_t i = 0; i < 4; ++i) {
      const uint32_t index = group >> (18 - 6 * i) & 63U;
      out += i <= count ? kAlphabet[index] : '=';
    }
  }
  return out;
}

}  // namespace fitting::html
