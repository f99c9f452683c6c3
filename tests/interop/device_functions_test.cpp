#include <array>
#include <cerrno>
#include <cstdint>
#include <cstdio>
#include <initializer_list>
#include <string>
#include <vector>

#include <doctest/doctest.h>

#include "tests/interop/libmodbus_master.hpp"
#include "tests/sim/io/line/running.hpp"

// Functions beside plain reads and writes, asked by libmodbus, which brings its own idea of their frames and
// of the length of their answers.

using namespace emberline;
using namespace emberline::test;

namespace {

constexpr int kSetpoint = 0x0030;

/// Sends a request as it stands, PDU behind the unit id, and gives the answer's bytes from the function code
/// on.
std::string raw(modbus_t* master, std::initializer_list<std::uint8_t> unit_and_pdu) {
  const std::vector<std::uint8_t> request(unit_and_pdu);
  REQUIRE(modbus_send_raw_request(master, request.data(), static_cast<int>(request.size())) > 0);
  std::array<std::uint8_t, MODBUS_RTU_MAX_ADU_LENGTH> answer{};
  const int size = modbus_receive_confirmation(master, answer.data());
  if (size < 4) return "";
  std::string text;
  for (int i = 1; i < size - 2; ++i) {  // without unit id and CRC
    char digits[4];
    (void)std::snprintf(digits, sizeof digits, "%02X ",
                        static_cast<unsigned>(answer[static_cast<std::size_t>(i)]));
    text += digits;
  }
  return text;
}

}  // namespace

TEST_CASE("libmodbus writes with masks, and writes and reads in one request") {
  Running running(small_bench());
  running.go();
  for (const bool serial : {true, false}) {
    CAPTURE(serial);
    auto master = serial ? LibmodbusMaster::pty(running.line("field").path)
                         : LibmodbusMaster::tcp(running.line("ethernet").port);
    REQUIRE(master.write_one(1, kSetpoint, 0x0012));
    CHECK(modbus_mask_write_register(master.asking(1), kSetpoint, 0x00F2, 0x0025) == 1);
    CHECK(master.read_holding(1, kSetpoint, 1) == std::vector<std::uint16_t>{0x0017});
    const std::uint16_t written = 321;
    std::uint16_t read = 0;
    CHECK(modbus_write_and_read_registers(master.asking(1), kSetpoint, 1, &written, kSetpoint, 1, &read) ==
          1);
    CHECK(read == 321);
    CHECK(modbus_write_and_read_registers(master.asking(1), 0x0100, 1, &written, kSetpoint, 1, &read) == -1);
    CHECK(errno == EMBXILADD);
    CHECK(modbus_mask_write_register(master.asking(1), 0x0100, 0, 1) == -1);
    CHECK(errno == EMBXILADD);
  }
}

TEST_CASE("libmodbus asks a unit who it is on a serial line; on TCP that is no function") {
  Running running(small_bench());
  running.go();
  auto serial = LibmodbusMaster::pty(running.line("field").path);
  std::array<std::uint8_t, MODBUS_MAX_PDU_LENGTH> id{};
  const int size = modbus_report_slave_id(serial.asking(1), static_cast<int>(id.size()), id.data());
  REQUIRE(size > 2);
  CHECK(id[0] == 1);
  CHECK(id[1] == 0x00);  // stopped: nobody has closed the coil its enable terminal is wired to
  CHECK(std::string(id.begin() + 2, id.begin() + size) == "Emberline virtual-unit 1.0");
  auto tcp = LibmodbusMaster::tcp(running.line("ethernet").port);
  CHECK(modbus_report_slave_id(tcp.asking(1), static_cast<int>(id.size()), id.data()) == -1);
  CHECK(errno == EMBXILFUN);
}

TEST_CASE("libmodbus gets the exception status of a unit") {
  // Application Protocol V1.1b3, 6.7. libmodbus has no call of its own for it, but knows the shape of its
  // answer.
  Running running(small_bench());
  running.go();
  auto master = LibmodbusMaster::pty(running.line("field").path);
  CHECK(raw(master.asking(1), {1, 0x07}) == "07 00 ");
}
