#include <array>
#include <optional>

#include <doctest/doctest.h>

#include "sim/modbus/device_functions.hpp"
#include "sim/modbus/pdu.hpp"
#include "sim/modbus/slave.hpp"
#include "tests/sim/modbus/hex.hpp"
#include "tests/sim/modbus/memory.hpp"
#include "tests/sim/modbus/random_pdu.hpp"

namespace emberline::modbus {
namespace {

using test::Memory;
using test::RandomPdus;
using test::to_hex;

TEST_CASE("100,000 random PDUs are answered in a shape that answers have, and change nothing where refused") {
  RandomPdus pdus(20240611);
  Memory memory(100);
  Diagnostics port;
  const auto identity = basic_identity("Emberline", "virtual-unit", "1.0");
  std::array<int, 256> normal{};
  int silences = 0;
  for (int i = 0; i < 100'000; ++i) {
    const auto pdu = pdus.next();
    CAPTURE(i);
    CAPTURE(to_hex(pdu));
    const bool broadcast = i % 16 == 0;
    const auto words = memory.words;
    const auto bits = memory.bits;
    const int changes = memory.changes;
    const Arrival arrival{SimTime{}, "field", "plc", broadcast, &port};
    std::optional<Bytes> meant;  // also of a broadcast
    const auto reply = serve(pdu, arrival, [&] {
      meant = is_about_device(pdu[0]) ? answer_about_device(pdu, {identity, 1, 0, true}, &port)
                                      : std::optional(answer(pdu, memory));
      return meant;
    });
    const bool refused = meant && refusal_of(*meant);
    if (broadcast) REQUIRE_FALSE(reply.has_value());
    if (!meant || refused || !may_change_memory(pdu[0])) {
      REQUIRE(memory.changes == changes);
      REQUIRE(memory.words == words);
      REQUIRE(memory.bits == bits);
    } else {
      REQUIRE(memory.changes == changes + 1);
    }
    if (!reply) {
      ++silences;
    } else if (refused) {
      REQUIRE(reply->size() == 2);
      REQUIRE((*reply)[0] == (pdu[0] | 0x80u));
      REQUIRE((*reply)[1] >= 1);
      REQUIRE((*reply)[1] <= 4);
    } else {
      REQUIRE((*reply)[0] == pdu[0]);
      REQUIRE(reply->size() <= kPduMax);
      const bool loop_back = pdu[0] == 0x08 && pdu[1] == 0 && pdu[2] == 0;
      if (loop_back)
        REQUIRE(*reply == pdu);
      else
        REQUIRE(implied_answer_length(*reply) == reply->size());
      ++normal[pdu[0]];
    }
    if (port.listen_only() && i % 32 == 31) port.power_up();
  }
  // Every function was reached, so the above has meant something.
  for (const auto code :
       {0x01, 0x02, 0x03, 0x04, 0x05, 0x06, 0x07, 0x08, 0x0B, 0x0C, 0x0F, 0x10, 0x11, 0x16, 0x17, 0x2B}) {
    CAPTURE(code);
    CHECK(normal[static_cast<std::size_t>(code)] > 100);
  }
  CHECK(silences > 1000);
}

}  // namespace
}  // namespace emberline::modbus
