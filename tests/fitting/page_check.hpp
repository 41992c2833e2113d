// Hands a page or a drawing to Python's own strict readers.
#pragma once

#include <string>

namespace tests {

// kind: "xml" (well-formed), or "page" (see check_page.py). RETURNS: what is wrong, empty if
// nothing is.
std::string check_file(const std::string& kind, const std::string& content);

}  // namespace tests
