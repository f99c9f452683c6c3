#include "sim/polling/line_time.hpp"

#include <algorithm>
#include <chrono>
#include <cstddef>

namespace emberline::polling {
namespace {

constexpr Duration kTcpOneWay = std::chrono::microseconds{200};
constexpr std::size_t kEnvelope = 3;  // RTU: unit id and CRC

Exchange exchange_of(const bench::LineSpec& line, Duration turnaround, Duration pause,
                     std::size_t request_pdu, std::size_t answer_pdu) {
  if (line.kind == bench::LineKind::tcp)
    return {kTcpOneWay, turnaround + kTcpOneWay, 2 * kTcpOneWay + turnaround + pause};
  const Duration silence = t3_5(line.serial);
  const Duration request = characters_time(line.serial, request_pdu + kEnvelope);
  const Duration answer = turnaround + silence + characters_time(line.serial, answer_pdu + kEnvelope);
  return {request, answer, request + answer + silence + pause};
}

}  // namespace

Exchange read_exchange(const bench::LineSpec& line, Duration turnaround, Duration pause, modbus::Table table,
                       int count) {
  constexpr std::size_t kRequest = 5;  // function code, first address, count
  const auto values = static_cast<std::size_t>(modbus::carries_bits(table) ? (count + 7) / 8 : 2 * count);
  return exchange_of(line, turnaround, pause, kRequest, 2 + values);
}

Exchange write_exchange(const bench::LineSpec& line, Duration turnaround, Duration pause, modbus::Table table,
                        int count) {
  constexpr std::size_t kSingle = 5;  // function code, address, value; the answer is the same
  if (modbus::carries_bits(table) || count == 1)
    return exchange_of(line, turnaround, pause, kSingle, kSingle);
  const std::size_t values = 2 * static_cast<std::size_t>(count);
  return exchange_of(line, turnaround, pause, kSingle + 1 + values, kSingle);
}

}  // namespace emberline::polling
