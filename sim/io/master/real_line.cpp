#include "sim/io/master/real_line.hpp"

#include <algorithm>
#include <cerrno>
#include <chrono>
#include <system_error>

#include <arpa/inet.h>

#include "sim/base/quantity.hpp"

namespace emberline::io {

namespace {

ModbusContext make_context(const LineAddress& address) {
  if (address.rtu) {
    const SerialFormat& serial = address.serial;
    return ModbusContext{
        modbus_new_rtu(address.path.c_str(), serial.baud, serial.parity, serial.data_bits, serial.stop_bits)};
  }
  return ModbusContext{modbus_new_tcp_pi(address.host.c_str(), std::to_string(address.port).c_str())};
}

bool is_number(const std::string& host) {
  in6_addr ignored{};
  return ::inet_pton(AF_INET, host.c_str(), &ignored) == 1 ||
         ::inet_pton(AF_INET6, host.c_str(), &ignored) == 1;
}

std::string words_of(int error) { return std::generic_category().message(error); }

}  // namespace

std::string in_words(Duration duration) {
  if (duration < std::chrono::seconds{1})
    return format_number(static_cast<double>(duration.count()) / 1e6) + " ms";
  return format_number(static_cast<double>(duration.count()) / 1e9) + " s";
}

RealLine::RealLine(LineAddress address, Duration timeout)
    : address_(std::move(address)), timeout_(timeout), context_(make_context(address_)) {
  if (context_) set_answer_timeout(context_.get(), timeout_);
}

Result<Done, std::string> RealLine::connect() {
  if (connected_) return Done{};
  if (!context_) return Failure{why_not(EINVAL)};
  if (address_.rtu && address_.serial.data_bits != 8) {
    return Failure{"Modbus RTU needs 8 data bits, not " + std::to_string(address_.serial.data_bits)};
  }
  if (modbus_connect(context_.get()) != 0) return Failure{why_not(errno)};
  if (address_.rtu) modbus_flush(context_.get());  // what nobody read before is not meant for us
  connected_ = true;
  return Done{};
}

std::string RealLine::why_not(int error) const {
  if (address_.rtu) {
    if (error == ENOTTY || error == EISDIR) {
      return address_.path + " is no terminal; expected a serial port or a pseudo-terminal";
    }
    if (error == ENOENT) return "terminal " + address_.path + " does not exist";
    return "terminal " + address_.path + " cannot be opened: " + words_of(error);
  }
  const std::string where = address_.host + ":" + std::to_string(address_.port);
  if (error == ECONNREFUSED) {
    return "no connection to " + where + ": nobody listens there" +
           (is_number(address_.host) ? "" : ", or the host is unknown");
  }
  if (error == ETIMEDOUT || error == EINPROGRESS) {
    return "no connection to " + where + " within " + in_words(timeout_);
  }
  return "no connection to " + where + ": " + words_of(error);
}

void RealLine::wait_at_most(Duration timeout) {
  timeout_ = std::max<Duration>(timeout, std::chrono::milliseconds{1});
  if (context_) set_answer_timeout(context_.get(), timeout_);
}

CallFailure RealLine::not_connected() { return {std::nullopt, ENOTCONN}; }

void RealLine::disconnect() {
  if (connected_) modbus_close(context_.get());
  connected_ = false;
}

/// A TCP connection is given up after any failure, so that a late answer dies with it. On a serial line what
/// came is thrown away; the terminal is opened anew only when it is gone.
void RealLine::recover(int error) {
  const bool about_frame = error == ETIMEDOUT || error >= MODBUS_ENOBASE;
  if (address_.rtu && about_frame) {
    modbus_flush(context_.get());
  } else {
    disconnect();
  }
}

}  // namespace emberline::io
