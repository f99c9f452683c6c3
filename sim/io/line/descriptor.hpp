#pragma once

#include <string>
#include <utility>

namespace emberline::io {

/// A descriptor that is closed when it goes.
class Descriptor {
 public:
  Descriptor() = default;
  explicit Descriptor(int number) : number_(number) {}
  ~Descriptor() { close(); }
  Descriptor(Descriptor&& other) noexcept : number_(other.release()) {}
  Descriptor& operator=(Descriptor&& other) noexcept;
  Descriptor(const Descriptor&) = delete;
  Descriptor& operator=(const Descriptor&) = delete;
  [[nodiscard]] int number() const { return number_; }
  [[nodiscard]] bool open() const { return number_ >= 0; }
  void close();
  int release();

 private:
  int number_ = -1;
};

/// What the system says about an error number.
[[nodiscard]] std::string system_words(int error);

}  // namespace emberline::io
