#include "sim/io/master/client.hpp"

#include <cerrno>
#include <system_error>

#include "sim/io/master/real_line.hpp"
#include "sim/rehearsal/refusal_words.hpp"

namespace emberline::io {

class Client::Impl {
 public:
  Impl(const LineAddress& address, Duration answer_within)
      : line(address, answer_within), timeout(answer_within) {}

  template <class T, class Call>
  Result<T, Client::Failure> ask(int id, Call&& call) {
    auto result = line.ask(std::forward<Call>(call));
    if (result) return std::move(result).value();
    return emberline::Failure{told(id, result.error())};
  }

  [[nodiscard]] Client::Failure told(int id, const CallFailure& failure) const {
    if (failure.refusal) {
      return {failure.refusal, "refused: " + rehearsal::refusal_words(*failure.refusal)};
    }
    return {std::nullopt, sentence(id, failure.error)};
  }

  [[nodiscard]] std::string sentence(int id, int error) const {
    const std::string unit = "unit " + std::to_string(id);
    switch (error) {
      case ETIMEDOUT:
        return "no answer from " + unit + " within " + in_words(timeout);
      case ENOTCONN:
        return "no answer from " + unit + ": the line cannot be opened any more";
      case ECONNRESET:
      case EPIPE:
      case EIO:
        return line.address().rtu ? "no answer from " + unit + ": the terminal was hung up"
                                  : "no answer from " + unit + ": the other side closed the connection";
      case EINVAL:
        return unit + " cannot be asked: expected a unit id from 1 to 247";
      case EMBMDATA:
        return "a request carries at most 125 registers (123 when writing) or 2000 bits (1968)";
      default:
        break;
    }
    if (error >= MODBUS_ENOBASE) {
      return "what came from " + unit + " is no answer to the request: " + modbus_strerror(error);
    }
    return unit + " cannot be asked: " + std::generic_category().message(error);
  }

  RealLine line;
  Duration timeout;
};

Client::Client() = default;
Client::~Client() = default;

Result<std::unique_ptr<Client>, std::string> Client::open(const LineAddress& line, Duration timeout) {
  std::unique_ptr<Client> client{new Client};
  client->impl_ = std::make_unique<Impl>(line, timeout);
  if (auto connected = client->impl_->line.connect(); !connected) {
    return emberline::Failure{connected.error()};
  }
  return client;
}

Result<std::vector<std::uint16_t>, Client::Failure> Client::read_registers(int id, modbus::Table table,
                                                                           modbus::AddressRange range) {
  return impl_->ask<std::vector<std::uint16_t>>(
      id, [&](modbus_t* context) { return io::read_registers(context, id, table, range); });
}

Result<std::vector<bool>, Client::Failure> Client::read_bits(int id, modbus::Table table,
                                                             modbus::AddressRange range) {
  return impl_->ask<std::vector<bool>>(
      id, [&](modbus_t* context) { return io::read_bits(context, id, table, range); });
}

Result<Done, Client::Failure> Client::write_registers(int id, std::uint16_t first,
                                                      const std::vector<std::uint16_t>& values) {
  return impl_->ask<Done>(id,
                          [&](modbus_t* context) { return io::write_registers(context, id, first, values); });
}

Result<Done, Client::Failure> Client::write_bits(int id, std::uint16_t first,
                                                 const std::vector<bool>& values) {
  return impl_->ask<Done>(id, [&](modbus_t* context) { return io::write_bits(context, id, first, values); });
}

}  // namespace emberline::io
