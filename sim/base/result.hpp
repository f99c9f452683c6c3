#pragma once

#include <cassert>
#include <utility>
#include <variant>

namespace emberline {

/// Wraps an error on its way into a Result.
template <class E>
struct Failure {
  E error;
};
template <class E>
Failure(E) -> Failure<E>;

/// A value, or why there is none. Named after std::expected, which replaces it once C++23 is here.
template <class T, class E>
class [[nodiscard]] Result {
 public:
  /// Succeeds with this value.
  Result(T value) : state_(std::in_place_index<0>, std::move(value)) {}
  /// Fails with this error, converted to E.
  template <class F>
  Result(Failure<F> failure) : state_(std::in_place_index<1>, std::move(failure.error)) {}

  /// True if it holds a value, false if it holds an error.
  bool has_value() const { return state_.index() == 0; }
  explicit operator bool() const { return has_value(); }
  /// The value; has_value() must hold.
  const T& value() const& {
    assert(has_value());
    return *std::get_if<0>(&state_);
  }
  T&& value() && {
    assert(has_value());
    return std::move(*std::get_if<0>(&state_));
  }
  const T& operator*() const& { return value(); }
  const T* operator->() const { return &value(); }
  /// The error; has_value() must not hold.
  const E& error() const {
    assert(!has_value());
    return *std::get_if<1>(&state_);
  }

 private:
  std::variant<T, E> state_;
};

/// Stands for "nothing to return" in a Result.
struct Done {};

}  // namespace emberline
