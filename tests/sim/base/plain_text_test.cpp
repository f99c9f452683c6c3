#include "sim/base/plain_text.hpp"

#include <string>

#include <doctest/doctest.h>

#include "sim/base/utf8.hpp"

using namespace emberline;

TEST_CASE("a text from outside steers the terminal it is shown on, or loses what it says") {
  CHECK(one_line("540 \xC2\xB0"
                 "C, gr\xC3\xB6\xC3\x9F"
                 "er") ==
        "540 \xC2\xB0"
        "C, gr\xC3\xB6\xC3\x9F"
        "er");
  // RFC 20, 4.1: 0 to 31 and 127 are control characters, 32 to 126 graphics (and the space).
  for (int code = 0; code < 128; ++code) {
    CAPTURE(code);
    const std::string text(1, static_cast<char>(code));
    CHECK(one_line("a" + text + "b") == "a" + (code < 32 || code == 127 ? " " : text) + "b");
  }
  // ECMA-48, 5.3: C1. RFC 3629, 3: U+0080 to U+009F are C2 80 to C2 9F, and U+00A0 is the first behind them.
  CHECK(one_line("a\xC2\x80\xC2\x9B\xC2\x9Fz") == "a      z");
  CHECK(one_line("a\xC2\xA0z") == "a\xC2\xA0z");
  CHECK(one_line("ends in the middle \xC2") == "ends in the middle \xC2");
}

TEST_CASE("a text that is cut for a message is longer than allowed, or ends inside of a character") {
  const std::string text = "a\xE2\x89\xA2\xCE\x91.";  // RFC 3629, 7: first example
  CHECK(one_line(text, text.size()) == text);
  for (std::size_t most = 0; most < text.size(); ++most) {
    CAPTURE(most);
    const auto cut = one_line(text, most);
    CHECK(cut.size() <= most + 3);
    CHECK(cut.ends_with("..."));
    CHECK_FALSE(first_not_utf8(cut));
  }
  CHECK(one_line(text, 4) == "a\xE2\x89\xA2...");
  CHECK(one_line(text, 3) == "a...");
}
