// A small tree of HTML. Text and attribute values are escaped unless nothing is to be escaped, and
// there is no way around it: markup comes from code, never from a string that a user wrote.
//
// What is written is well-formed XML too, so that any strict reader can check it.
#pragma once

#include <string>
#include <string_view>
#include <utility>
#include <vector>

namespace fitting::html {

using Attribute = std::pair<std::string, std::string>;

class Node {
 public:
  // Text, escaped when written.
  static Node text(std::string_view text);
  // REQUIRES: tag and attribute names of lower-case letters, digits and '-'.
  static Node element(std::string tag, std::vector<Attribute> attributes = {},
                      std::vector<Node> children = {});
  // The content of a style element, written as it is. REQUIRES: no '<' and no '&' in it.
  static Node style(std::string_view css);

  Node& add(Node child);
  void write(std::string& out) const;

 private:
  enum class Kind { text, element, style };

  Kind kind_ = Kind::text;
  std::string content_;  // the text or the tag
  std::vector<Attribute> attributes_;
  std::vector<Node> children_;
};

// Shorthand for an element that holds text alone.
Node text_element(std::string tag, std::string_view text, std::vector<Attribute> attributes = {});

// The document with its type declaration.
std::string document(const Node& root);

std::string escaped(std::string_view text);
std::string base64(std::string_view bytes);

}  // namespace fitting::html
