#include "sim/io/report/json_find.hpp"

#include <doctest/doctest.h>

using namespace emberline;

TEST_CASE("a value is found in a text from outside, and whatever else it is does no harm") {
  const auto good = io::parse_json(R"({"a":"text","b":{"c":1}})");
  CHECK(io::find_text(io::find_member(&good, "a")) == "text");
  CHECK(io::find_member(io::find_member(&good, "b"), "c")->as_int64() == 1);
  CHECK(io::find_member(&good, "x") == nullptr);
  CHECK(io::find_member(io::find_member(&good, "a"), "b") == nullptr);
  CHECK(io::find_member(nullptr, "a") == nullptr);
  CHECK(!io::find_text(nullptr));
  CHECK(!io::find_text(io::find_member(&good, "b")));
  // RFC 8259, 8.1: a text that is exchanged is UTF-8.
  for (const char* bad : {"", "{", "{\"a\":\"text\"} x", "[1,]", "\"\xFF\"", "{\"a\":\"\xED\xA0\x80\"}"}) {
    CAPTURE(std::string(bad));
    const auto value = io::parse_json(bad);
    CHECK(value.is_null());
    CHECK(io::find_member(&value, "a") == nullptr);
  }
}
