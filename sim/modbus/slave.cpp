#include "sim/modbus/slave.hpp"

#include "sim/modbus/pdu.hpp"

namespace emberline::modbus {

std::optional<Bytes> serve(ByteView pdu, const Arrival& arrival,
                           const std::function<std::optional<Bytes>()>& carry_out) {
  if (pdu.empty()) return std::nullopt;
  if (arrival.port != nullptr && !arrival.port->begin(pdu, arrival.broadcast)) return std::nullopt;
  const bool processed = !arrival.broadcast || may_be_broadcast(pdu[0]);
  auto answer = processed ? carry_out() : exception_pdu(pdu[0], Refusal::illegal_function);
  if (arrival.port != nullptr) arrival.port->end(pdu, answer, arrival.broadcast);
  if (arrival.broadcast) return std::nullopt;
  return answer;
}

}  // namespace emberline::modbus
