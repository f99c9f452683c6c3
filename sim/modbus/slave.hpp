#pragma once

#include <optional>
#include <string_view>

#include "sim/base/sim_time.hpp"
#include "sim/modbus/bytes.hpp"

namespace emberline::modbus {

/// How a request came in.
struct Arrival {
  SimTime at;               ///< when its frame was complete
  std::string_view line;    ///< name of the line it came over
  std::string_view master;  ///< who asked, as far as known: "plc", "127.0.0.1:40112", "the line's master"
  bool broadcast = false;   ///< unit id 0 on a serial line: act, never answer
};

/// Something with a unit id that takes up PDUs: a virtual unit or an io-block.
class Slave {
 public:
  virtual ~Slave() = default;
  /// Takes up one request PDU (function code first) and gives the answer's PDU; nothing is silence: a
  /// broadcast, a slave without power, a request that its intake limits drop. The caller has checked address
  /// and CRC.
  virtual std::optional<Bytes> take_up(ByteView pdu, const Arrival& arrival) = 0;
};

}  // namespace emberline::modbus
