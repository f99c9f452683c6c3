#include "sim/cli/output_queue.hpp"

#include <array>
#include <string>

#include <doctest/doctest.h>
#include <fcntl.h>
#include <unistd.h>

namespace emberline::cli {
namespace {

/// Standard error of this process, led into a pipe as long as it lives.
class ErrorsRead {
 public:
  ErrorsRead() : before_(::dup(STDERR_FILENO)) {
    REQUIRE(::pipe2(ends_.data(), O_CLOEXEC) == 0);
    REQUIRE(::dup2(ends_[1], STDERR_FILENO) == STDERR_FILENO);
  }
  ~ErrorsRead() {
    ::dup2(before_, STDERR_FILENO);
    for (const int one : {before_, ends_[0], ends_[1]}) ::close(one);
  }
  ErrorsRead(const ErrorsRead&) = delete;
  ErrorsRead& operator=(const ErrorsRead&) = delete;

  /// Fills the pipe, so that whoever writes next waits.
  void fill() const {
    const int flags = ::fcntl(ends_[1], F_GETFL);
    ::fcntl(ends_[1], F_SETFL, flags | O_NONBLOCK);
    while (::write(ends_[1], "-", 1) == 1) {
    }
    ::fcntl(ends_[1], F_SETFL, flags);
  }
  /// What has come until `words` have.
  [[nodiscard]] std::string read_until(const std::string& words) const {
    std::string text;
    std::array<char, 4096> piece{};
    while (text.find(words) == std::string::npos) {
      const auto count = ::read(ends_[0], piece.data(), piece.size());
      if (count <= 0) break;
      text.append(piece.data(), static_cast<std::size_t>(count));
    }
    return text;
  }

 private:
  int before_;
  std::array<int, 2> ends_{};
};

TEST_CASE("what nobody reads in time holds up who says it, or is lost without a word") {
  const ErrorsRead errors;
  errors.fill();
  OutputQueue queue({.most_B = 20});
  queue.log("first of ten\n");
  queue.log("more\n");
  queue.log("too much\n");
  queue.log("too much again\n");
  const auto said = errors.read_until("in time\n");
  CHECK(
      said.substr(said.find_first_not_of('-')) ==
      "first of ten\nmore\nemberline: 2 texts were left out here: nobody read what stands before in time\n");
  // And then it goes on.
  queue.log("later\n");
  CHECK(errors.read_until("later\n") == "later\n");
}

TEST_CASE("a text longer than the limit is lost although nothing else waits") {
  const ErrorsRead errors;
  OutputQueue queue({.most_B = 5});
  queue.log("longer than five\n");
  CHECK(errors.read_until("five\n") == "longer than five\n");
}

}  // namespace
}  // namespace emberline::cli
