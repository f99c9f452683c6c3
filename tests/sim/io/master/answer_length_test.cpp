// Held against libmodbus itself: given exactly as many bytes as answer_length() says, it comes to a result
// without waiting for more.
#include "sim/io/master/answer_length.hpp"

#include <array>
#include <cstdint>

#include <doctest/doctest.h>
#include <modbus.h>
#include <sys/socket.h>

#include "sim/base/random.hpp"
#include "sim/io/master/modbus_calls.hpp"
#include "sim/io/master/socket_pair.hpp"
#include "sim/modbus/crc.hpp"

namespace emberline::io {
namespace {

/// What libmodbus makes of these bytes as the answer to a read of one register; true if it is content without
/// a further byte. Our end is shut behind them, so that waiting for more shows as a lost connection.
bool comes_to_a_result(const modbus::Bytes& bytes, bool rtu) {
  ModbusContext context{rtu ? modbus_new_rtu("nowhere", 19200, 'E', 8, 1)
                            : modbus_new_tcp("127.0.0.1", 1502)};
  SocketPair pair = make_socket_pair();
  modbus_set_socket(context.get(), pair.theirs.number());
  modbus_set_slave(context.get(), 1);
  set_answer_timeout(context.get(), std::chrono::seconds{20});
  (void)::send(pair.ours.number(), bytes.data(), bytes.size(), MSG_NOSIGNAL);
  ::shutdown(pair.ours.number(), SHUT_WR);
  std::uint16_t word = 0;
  errno = 0;
  return modbus_read_registers(context.get(), 0, 1, &word) == 1 || errno != ECONNRESET;
}

}  // namespace

TEST_CASE("a stand-in never waits for bytes that libmodbus does not want, nor hands it too few") {
  Random chance(20261125);
  for (int round = 0; round < 2000; ++round) {
    const bool rtu = chance.below(2) == 0;
    modbus::Bytes bytes;
    for (int i = 0; i < 300; ++i) bytes.push_back(static_cast<std::uint8_t>(chance.bits()));
    const std::size_t header = rtu ? 1 : 7;
    if (chance.below(2) == 0) bytes[header] = static_cast<std::uint8_t>(chance.below(0x18));
    CAPTURE(rtu);
    CAPTURE(int{bytes[header]});
    CAPTURE(int{bytes[header + 1]});
    const std::size_t length = answer_length(bytes, rtu);
    REQUIRE(length > header + 1);
    bytes.resize(length);
    CHECK(answer_length(bytes, rtu) == length);
    CHECK(comes_to_a_result(bytes, rtu));
    bytes.pop_back();
    CHECK_FALSE(comes_to_a_result(bytes, rtu));
  }
}

TEST_CASE("a good answer is read to its last byte and no further") {
  const modbus::Bytes pdu{0x03, 0x02, 0x02, 0x2B};
  const auto frame = modbus::rtu_frame(1, pdu);
  CHECK(answer_length(frame, true) == frame.size());
  CHECK(answer_length(modbus::ByteView(frame).first(1), true) == 0);
  CHECK(answer_length(modbus::ByteView(frame).first(2), true) == 0);  // the byte count is not there yet
}

}  // namespace emberline::io
