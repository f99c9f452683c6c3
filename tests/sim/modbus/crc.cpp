#include "sim/modbus/crc.hpp"

#include <doctest/doctest.h>

#include "tests/sim/modbus/hex.hpp"

namespace emberline::modbus {
namespace {

using test::hex;

TEST_CASE("frames carry a checksum that only we compute, or carry it the wrong way round") {
  struct Row {
    const char* source;
    Bytes frame;  ///< address, PDU, CRC as it stands on the wire
  };
  const Row rows[] = {
      {"Serial Line V1.02, 6.2.2, worked example", hex("02 07 41 12")},
      // The check value of CRC-16/MODBUS over "123456789" is 4B37; of these nine bytes one is the address.
      {"Catalogue of parametrised CRC algorithms, CRC-16/MODBUS", hex("31 32 33 34 35 36 37 38 39 37 4B")},
  };
  for (const auto& row : rows) {
    CAPTURE(row.source);
    const ByteView whole(row.frame);
    CHECK(rtu_frame(row.frame[0], whole.subspan(1, whole.size() - 3)) == row.frame);
    CHECK(crc16(whole) == 0);
  }
}

}  // namespace
}  // namespace emberline::modbus
