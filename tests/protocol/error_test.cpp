// Errors and results: each kind has its exit code, and an error is never lost on the way.
#include "protocol/result.hpp"

#include <catch2/catch.hpp>

using namespace protocol;

TEST_CASE("errors: each kind maps to its documented exit code", "[protocol]") {
  struct Row {
    Errc code;
    int exit;
  };
  const auto row = GENERATE(values<Row>({{Errc::ok, 0},
                                         {Errc::usage, 2},
                                         {Errc::input_missing, 3},
                                         {Errc::unit_unknown, 3},
                                         {Errc::calibration_unusable, 3},
                                         {Errc::port_missing, 4},
                                         {Errc::samples_lost, 4},
                                         {Errc::stopped_by_operator, 5},
                                         {Errc::not_homed, 5},
                                         {Errc::fit_not_usable, 6},
                                         {Errc::output_exists, 7},
                                         {Errc::write_failed, 7},
                                         {Errc::bug, 70}}));
  CHECK(static_cast<int>(exit_code(row.code)) == row.exit);
}

TEST_CASE("result: a value goes on, an error is handed on", "[protocol]") {
  const auto half = [](int&& n) -> Result<int> {
    if (n % 2) return Error{Errc::input_out_of_range, "odd"};
    return n / 2;
  };
  CHECK(Result<int>(4).and_then(half).value() == 2);
  CHECK(Result<int>(3).and_then(half).error().message == "odd");
  CHECK(Result<int>(3).and_then(half).and_then(half).error().code == Errc::input_out_of_range);
  CHECK(at("a.csv:2:1", Error{Errc::bug, "x"}).message == "a.csv:2:1: x");
}
