#include "sim/base/utf8.hpp"

#include <string>

#include <doctest/doctest.h>

using namespace emberline;

TEST_CASE("what is no UTF-8 passes for text nowhere") {
  struct Row {
    std::string text;
    std::optional<std::size_t> bad;
    const char* source;
  };
  const Row rows[] = {
      {"", std::nullopt, "no bytes, no mistake"},
      {"plain", std::nullopt, "RFC 3629, 3: US-ASCII stays as it is"},
      {"A\xE2\x89\xA2\xCE\x91.", std::nullopt, "RFC 3629, 7: first example"},
      {"\xED\x95\x9C\xEA\xB5\xAD\xEC\x96\xB4", std::nullopt, "RFC 3629, 7: second example"},
      {"\xEF\xBB\xBF\xF0\xA3\x8E\xB4", std::nullopt, "RFC 3629, 7: fourth example"},
      {"\xF4\x8F\xBF\xBF", std::nullopt, "RFC 3629, 3: U+10FFFF, the last"},
      {"a\xC0\x80", 1, "RFC 3629, 10: C0 80, an overlong zero"},
      {"/\xC0\xAE", 1, "RFC 3629, 10: an overlong '.'"},
      {"\xE0\x9F\xBF", 0, "RFC 3629, 4: the second byte after E0 is A0 to BF"},
      {"\xED\xA0\x80", 0, "RFC 3629, 3: U+D800, a surrogate"},
      {"\xF0\x8F\xBF\xBF", 0, "RFC 3629, 4: the second byte after F0 is 90 to BF"},
      {"\xF4\x90\x80\x80", 0, "RFC 3629, 3: U+110000"},
      {"ab\xFF", 2, "RFC 3629, 3: FF never appears"},
      {"\xF5\x80\x80\x80", 0, "RFC 3629, 3: F5 never appears"},
      {"a\x80", 1, "RFC 3629, 4: a tail without a head"},
      {"a\xE2\x89", 1, "RFC 3629, 4: a head without all of its tail"},
      {"\xE2\x89z", 0, "RFC 3629, 4: the same, and text goes on"},
  };
  for (const auto& row : rows) {
    CAPTURE(row.source);
    CHECK(first_not_utf8(row.text) == row.bad);
  }
}
