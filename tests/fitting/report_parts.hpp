// Finds a named part of a report's section; the test fails where there is none.
#pragma once

#include <catch2/catch.hpp>
#include <string>

#include "fitting/report/section.hpp"

namespace tests {

template <class Part>
const Part& part_in(const fitting::Section& section, const std::string& name) {
  for (const auto& block : section.blocks) {
    const auto* part = std::get_if<Part>(&block);
    if (part != nullptr && part->name == name) return *part;
  }
  FAIL("no " << name << " in section " << section.id);
  throw 0;
}

inline const fitting::Table& table_in(const fitting::Section& section, const std::string& name) {
  return part_in<fitting::Table>(section, name);
}
inline const fitting::Figure& figure_in(const fitting::Section& section, const std::string& name) {
  return part_in<fitting::Figure>(section, name);
}

}  // namespace tests
