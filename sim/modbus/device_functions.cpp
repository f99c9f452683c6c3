#include "sim/modbus/device_functions.hpp"

#include <cassert>

#include "sim/modbus/pdu.hpp"

namespace emberline::modbus {

bool is_about_device(std::uint8_t function_code) {
  return is_serial_only(function_code) ||
         static_cast<Function>(function_code) == Function::encapsulated_interface;
}

bool is_serial_only(std::uint8_t function_code) {
  switch (static_cast<Function>(function_code)) {
    case Function::read_exception_status:
    case Function::diagnostics:
    case Function::get_comm_event_counter:
    case Function::get_comm_event_log:
    case Function::report_server_id:
      return true;
    default:
      return false;
  }
}

std::optional<Bytes> answer_about_device(ByteView pdu, const DeviceFace& face, Diagnostics* port) {
  assert(!pdu.empty() && is_about_device(pdu[0]));
  if (port == nullptr && is_serial_only(pdu[0])) return exception_pdu(pdu[0], Refusal::illegal_function);
  switch (static_cast<Function>(pdu[0])) {
    case Function::encapsulated_interface:
      return answer_identification(pdu, face.identity);
    case Function::report_server_id:
      return answer_server_id(pdu, face.unit_id, face.running, face.identity);
    case Function::read_exception_status:
      if (pdu.size() != 1) return exception_pdu(pdu[0], Refusal::illegal_data_value);
      return Bytes{pdu[0], face.exception_status};
    default:
      assert(port != nullptr);
      return port->answer(pdu);
  }
}

}  // namespace emberline::modbus
