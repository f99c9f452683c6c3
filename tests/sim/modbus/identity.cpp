#include "sim/modbus/identity.hpp"

#include <map>
#include <string>

#include <doctest/doctest.h>

#include "sim/base/random.hpp"
#include "sim/modbus/pdu.hpp"
#include "tests/sim/modbus/hex.hpp"

// MODBUS Application Protocol Specification V1.1b3, 6.13 and 6.21. The answers printed in 6.21 contradict
// themselves (lengths that are not those of their texts, an object count that stays 3), so answers are held
// against the rules, never against those bytes.

namespace emberline::modbus {
namespace {

using test::hex;
using test::to_hex;
using Objects = std::map<std::uint8_t, std::string>;

struct Answer {
  std::uint8_t read_code = 0;
  std::uint8_t conformity = 0;
  bool more = false;
  std::uint8_t next = 0;
  Objects objects;
};

/// Takes an answer apart and checks the invariants: 7 bytes of head and 2 more than its text for each object.
Answer parts(const Bytes& pdu) {
  REQUIRE(pdu.size() >= 7);
  REQUIRE(pdu.size() <= kPduMax);
  CHECK(pdu[0] == 0x2B);
  CHECK(pdu[1] == 0x0E);
  Answer answer{pdu[2], pdu[3], pdu[4] == 0xFF, pdu[5], {}};
  CHECK((pdu[4] == 0xFF || pdu[4] == 0x00));
  if (pdu[4] == 0x00) CHECK(pdu[5] == 0x00);
  std::size_t index = 7;
  for (int i = 0; i < pdu[6]; ++i) {
    REQUIRE(index + 2 <= pdu.size());
    const std::size_t size = pdu[index + 1];
    REQUIRE(index + 2 + size <= pdu.size());
    const auto begin = pdu.begin() + static_cast<std::ptrdiff_t>(index + 2);
    answer.objects[pdu[index]] = std::string(begin, begin + static_cast<std::ptrdiff_t>(size));
    index += 2 + size;
  }
  CHECK(index == pdu.size());
  CHECK(answer.objects.size() == pdu[6]);
  return answer;
}

/// All objects of a level, over as many answers as it takes.
Objects stream(std::uint8_t level, const Identity& identity, int& answers) {
  Objects all;
  std::uint8_t next = 0;
  for (answers = 1;; ++answers) {
    const auto part = parts(answer_identification(Bytes{0x2B, 0x0E, level, next}, identity));
    REQUIRE_FALSE(part.objects.empty());
    for (const auto& [id, text] : part.objects) CHECK(all.emplace(id, text).second);
    if (!part.more) return all;
    REQUIRE(part.next > part.objects.rbegin()->first);
    next = part.next;
  }
}

Identity rich() {
  auto identity = basic_identity("Emberline", "virtual-unit", "1.0");
  identity.objects[kModelName] = "lehr heater";
  identity.objects[0x80] = "hall 2";
  identity.objects[0xFF] = "last";
  return identity;
}

TEST_CASE("the conformity level is what the objects given make it") {
  auto identity = basic_identity("Emberline", "virtual-unit", "1.0");
  CHECK(conformity_level(identity) == 0x81);
  identity.objects[kUserApplicationName] = "lehr";
  CHECK(conformity_level(identity) == 0x82);
  identity.objects[0x80] = "hall 2";
  CHECK(conformity_level(identity) == 0x83);
  identity.objects.erase(kUserApplicationName);
  CHECK(conformity_level(identity) == 0x83);
}

TEST_CASE("a stream gives the objects of its level, or of the device's own where that is lower") {
  const auto identity = rich();
  const auto level = [&](std::uint8_t code) {
    return parts(answer_identification(Bytes{0x2B, 0x0E, code, 0}, identity));
  };
  CHECK(level(1).objects == Objects{{0, "Emberline"}, {1, "virtual-unit"}, {2, "1.0"}});
  CHECK(level(2).objects == Objects{{0, "Emberline"}, {1, "virtual-unit"}, {2, "1.0"}, {5, "lehr heater"}});
  CHECK(level(3).objects == identity.objects);
  for (std::uint8_t code = 1; code <= 3; ++code) {
    CHECK(level(code).read_code == code);
    CHECK(level(code).conformity == 0x83);
  }
  const auto basic = basic_identity("Emberline", "virtual-unit", "1.0");
  for (const auto* request : {"2B 0E 02 00", "2B 0E 03 00"}) {
    const auto answer = parts(answer_identification(hex(request), basic));
    CHECK(answer.objects == basic.objects);
    CHECK(answer.conformity == 0x81);
  }
}

TEST_CASE("a stream begins where it is asked to, and at the first object where that one is not there") {
  const auto identity = rich();
  const auto first = [&](std::uint8_t code, std::uint8_t object) -> int {
    const auto answer = parts(answer_identification(Bytes{0x2B, 0x0E, code, object}, identity));
    return answer.objects.empty() ? -1 : answer.objects.begin()->first;
  };
  CHECK(first(1, 1) == 1);
  CHECK(first(3, 5) == 5);
  CHECK(first(3, 0xFF) == 0xFF);
  CHECK(first(1, 0x70) == 0);
  CHECK(first(2, 3) == 0);
  CHECK(first(1, 5) == 0);     // there, but not on this level
  CHECK(first(2, 0x80) == 0);  // the same
}

TEST_CASE("one object is given alone, whatever its level, and 02 is the answer for one that is not there") {
  const auto identity = rich();
  for (const auto& [id, text] : identity.objects) {
    const auto answer = parts(answer_identification(Bytes{0x2B, 0x0E, 0x04, id}, identity));
    CHECK(answer.objects == Objects{{id, text}});
    CHECK_FALSE(answer.more);
  }
  CHECK(to_hex(answer_identification(hex("2B 0E 04 70"), identity)) == "AB 02");
  CHECK(to_hex(answer_identification(hex("2B 0E 04 03"), identity)) == "AB 02");
}

TEST_CASE("an identity of any size comes over whole, in as many answers as it takes") {
  Random random(7);
  int longest = 0;
  for (int round = 0; round < 2000; ++round) {
    CAPTURE(round);
    Identity identity;
    const auto text = [&] {
      return std::string(1 + random.below(random.below(4) == 0 ? kObjectTextMax : 20),
                         static_cast<char>('a' + random.below(26)));
    };
    for (int id = 0; id <= 0xFF; ++id) {
      const bool possible = id <= 6 || id >= 0x80;
      if (id <= 2 || (possible && random.below(8) == 0))
        identity.objects[static_cast<std::uint8_t>(id)] = text();
    }
    int answers = 0;
    CHECK(stream(3, identity, answers) == identity.objects);
    longest = std::max(longest, answers);
    for (const auto& [id, expected] : stream(1, identity, answers))
      CHECK(identity.objects.at(id) == expected);
  }
  CHECK(longest > 3);
}

TEST_CASE("an object of the longest length fits an answer of its own, in a stream too") {
  auto identity = basic_identity(std::string(kObjectTextMax, 'v'), std::string(kObjectTextMax, 'p'), "1.0");
  CHECK(answer_identification(hex("2B 0E 04 00"), identity).size() == kPduMax);
  int answers = 0;
  CHECK(stream(1, identity, answers) == identity.objects);
  CHECK(answers == 3);
}

TEST_CASE("the server id is the unit id, then whether it runs, then who it is, cut where a PDU ends") {
  const auto identity = basic_identity("Emberline", "virtual-unit", "1.0");
  const auto reply = answer_server_id(hex("11"), 17, true, identity);
  CHECK(to_hex(ByteView(reply).first(4)) == "11 1C 11 FF");
  CHECK(std::string(reply.begin() + 4, reply.end()) == "Emberline virtual-unit 1.0");
  CHECK(answer_server_id(hex("11"), 17, false, identity)[3] == 0x00);
  const auto longest = answer_server_id(
      hex("11"), 1, true, basic_identity(std::string(kObjectTextMax, 'v'), std::string(99, 'p'), "1.0"));
  CHECK(longest.size() == kPduMax);
  CHECK(longest[1] == kPduMax - 2);
}

}  // namespace
}  // namespace emberline::modbus
