#pragma once

#include <string>
#include <utility>

#include "sim/io/master/modbus_calls.hpp"
#include "sim/io/master/wall_masters.hpp"

namespace emberline::io {

/// A libmodbus master on a line that is really open: connects when it has to, and again after a failure that
/// leaves it unsure whose answer comes next. For one thread.
class RealLine {
 public:
  RealLine(LineAddress address, Duration timeout);
  ~RealLine() { disconnect(); }
  RealLine(const RealLine&) = delete;
  RealLine& operator=(const RealLine&) = delete;

  [[nodiscard]] const LineAddress& address() const { return address_; }
  /// The error is one line: what could not be opened and why.
  [[nodiscard]] Result<Done, std::string> connect();

  /// How long each request waits for an answer from now on; at least 1 ms.
  void wait_at_most(Duration timeout);
  /// Closes what is open; the next request connects anew.
  void disconnect();

  /// One request: `call` gets the connected context. No connection counts as a failure with ENOTCONN.
  template <class Call>
  auto ask(Call&& call) -> decltype(call(std::declval<modbus_t*>())) {
    if (!connect()) return Failure{not_connected()};
    auto result = call(context_.get());
    if (!result && !result.error().refusal) recover(result.error().error);
    return result;
  }

 private:
  static CallFailure not_connected();
  void recover(int error);
  [[nodiscard]] std::string why_not(int error) const;

  LineAddress address_;
  Duration timeout_;
  ModbusContext context_;
  bool connected_ = false;
};

/// "500 ms", "2 s"
[[nodiscard]] std::string in_words(Duration duration);

}  // namespace emberline::io
