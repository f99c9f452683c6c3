#pragma once

#include <functional>
#include <optional>
#include <string_view>

#include "sim/base/sim_time.hpp"
#include "sim/modbus/bytes.hpp"
#include "sim/modbus/diagnostics.hpp"

namespace emberline::modbus {

/// How a request came in.
struct Arrival {
  SimTime at;                   ///< when its frame was complete
  std::string_view line;        ///< name of the line it came over
  std::string_view master;      ///< who asked, as far as known: "plc", "127.0.0.1:40112", "the line's master"
  bool broadcast = false;       ///< unit id 0 on a serial line: act, never answer
  Diagnostics* port = nullptr;  ///< the slave's serial port on this line; null where RTU frames do not go
};

/// Something with a unit id that takes up PDUs: a virtual unit or an io-block.
class Slave {
 public:
  virtual ~Slave() = default;
  /// Takes up one request PDU (function code first) and gives the answer's PDU; nothing is silence: a
  /// broadcast, a slave without power, a request that its intake limits drop. The caller has checked address
  /// and CRC.
  virtual std::optional<Bytes> take_up(ByteView pdu, const Arrival& arrival) = 0;
  /// How long after the last byte of the request the answer of the latest take_up() is ready to be sent.
  [[nodiscard]] virtual Duration ready_after() const { return {}; }
};

/// Takes a request through a slave's port: lets `carry_out` answer it and counts and logs it. It is not
/// called for what is not to be processed: anything in listen-only mode but the way out of it, and broadcasts
/// of functions that may not be broadcast. Broadcasts are never answered.
[[nodiscard]] std::optional<Bytes> serve(ByteView pdu, const Arrival& arrival,
                                         const std::function<std::optional<Bytes>()>& carry_out);

}  // namespace emberline::modbus
