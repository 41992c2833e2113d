// A value or an error, with the names of std::expected so that C++23 makes it an alias.
#pragma once

#include <optional>
#include <type_traits>
#include <utility>
#include <variant>

#include "protocol/error.hpp"

namespace protocol {

template <class T>
class [[nodiscard]] Result {
 public:
  using value_type = T;

  Result(T value) : content_(std::in_place_index<0>, std::move(value)) {}
  Result(Error error) : content_(std::in_place_index<1>, std::move(error)) {}

  bool has_value() const { return content_.index() == 0; }
  explicit operator bool() const { return has_value(); }

  T& value() & {
    ENSURE(has_value());
    return std::get<0>(content_);
  }
  const T& value() const& {
    ENSURE(has_value());
    return std::get<0>(content_);
  }
  T&& value() && {
    ENSURE(has_value());
    return std::get<0>(std::move(content_));
  }
  T& operator*() & { return value(); }
  const T& operator*() const& { return value(); }
  T* operator->() { return &value(); }
  const T* operator->() const { return &value(); }

  const Error& error() const {
    ENSURE(!has_value());
    return std::get<1>(content_);
  }

  // Calls next(value) where there is a value, and hands the error on where there is none.
  template <class F>
  auto and_then(F&& next) && -> std::invoke_result_t<F, T&&> {
    if (has_value()) return std::forward<F>(next)(std::get<0>(std::move(content_)));
    return std::get<1>(std::move(content_));
  }

 private:
  std::variant<T, Error> content_;
};

// Success carries nothing.
template <>
class [[nodiscard]] Result<void> {
 public:
  using value_type = void;

  Result() = default;
  Result(Error error) : error_(std::move(error)) {}

  bool has_value() const { return !error_.has_value(); }
  explicit operator bool() const { return has_value(); }
  const Error& error() const {
    ENSURE(error_.has_value());
    return *error_;
  }

 private:
  std::optional<Error> error_;
};

}  // namespace protocol
