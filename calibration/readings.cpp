#include "calibration/readings.hpp"

#include <algorithm>
#include <array>
#include <charconv>
#include <chrono>
#include <utility>

namespace calibration {
namespace {

constexpr std::array<std::pair<Kind, std::string_view>, 3> kKinds = {{
    {Kind::force, "force"},
    {Kind::travel, "travel"},
    {Kind::frame, "frame"},
}};

// The first spelling is the one that is written; the others are understood.
constexpr std::array<std::pair<Direction, std::string_view>, 7> kDirections = {{
    {Direction::unsaid, ""},
    {Direction::ascending, "ascending"},
    {Direction::descending, "descending"},
    {Direction::ascending, "up"},
    {Direction::descending, "down"},
    {Direction::ascending, "increasing"},
    {Direction::descending, "decreasing"},
}};

bool read_digits(std::string_view text, int& number) {
  const auto [end, status] = std::from_chars(text.data(), text.data() + text.size(), number);
  return status == std::errc{} && end == text.data() + text.size() && number >= 0;
}

}  // namespace

std::string_view kind_name(Kind kind) {
  for (const auto& [known, name] : kKinds) {
    if (known == kind) return name;
  }
  ENSURE(false);
}

std::optional<Kind> find_kind(std::string_view name) {
  for (const auto& [kind, known] : kKinds) {
    if (known == name) return kind;
  }
  return std::nullopt;
}

std::string_view reading_unit(Kind kind) {
  switch (kind) {
    case Kind::force:
      return "counts";
    case Kind::travel:
      return "steps";
    case Kind::frame:
      return "N";
  }
  ENSURE(false);
}

std::string_view value_unit(Kind kind) {
  return kind == Kind::force ? "N" : "m";
}

std::string_view direction_name(Direction direction) {
  for (const auto& [known, name] : kDirections) {
    if (known == direction) return name;
  }
  ENSURE(false);
}

std::optional<Direction> find_direction(std::string_view name) {
  for (const auto& [direction, known] : kDirections) {
    if (known == name) return direction;
  }
  return std::nullopt;
}

bool has_weights(const std::vector<Reading>& readings) {
  return std::any_of(readings.begin(), readings.end(),
                     [](const Reading& reading) { return reading.load_kg.has_value(); });
}

double dead_weight_N(double mass_kg, const DeadWeightConditions& conditions) {
  const double gravity_m_s2 = conditions.gravity_m_s2.value_or(protocol::kStandardGravity_m_s2);
  const double air_density_kg_m3 = conditions.air_density_kg_m3.value_or(0.0);
  return mass_kg * gravity_m_s2 * (1.0 - air_density_kg_m3 / kConventionalDensity_kg_m3);
}

bool is_date(std::string_view text) {
  if (text.size() != 10 || text[4] != '-' || text[7] != '-') return false;
  int year = 0;
  int month = 0;
  int day = 0;
  if (!read_digits(text.substr(0, 4), year) || !read_digits(text.substr(5, 2), month) ||
      !read_digits(text.substr(8, 2), day)) {
    return false;
  }
  const std::chrono::year_month_day date{std::chrono::year{year},
                                         std::chrono::month{static_cast<unsigned>(month)},
                                         std::chrono::day{static_cast<unsigned>(day)}};
  return date.ok();
}

}  // namespace calibration
