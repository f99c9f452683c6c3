#include "sim/io/line/descriptor.hpp"

#include <system_error>

#include <unistd.h>

namespace emberline::io {

std::string system_words(int error) { return std::generic_category().message(error); }

Descriptor& Descriptor::operator=(Descriptor&& other) noexcept {
  if (this != &other) {
    close();
    number_ = other.release();
  }
  return *this;
}

void Descriptor::close() {
  if (number_ >= 0) {
    ::close(number_);
    number_ = -1;
  }
}

int Descriptor::release() { return std::exchange(number_, -1); }

}  // namespace emberline::io
