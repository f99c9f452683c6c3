#include "sim/faults/action_impairment.hpp"

#include <utility>

#include "sim/base/quantity.hpp"
#include "sim/modbus/crc.hpp"

namespace emberline::faults {

bench::Way way_of(const Action& action) {
  return static_cast<bench::Way>(static_cast<int>(action.value("way")));
}

std::string in_words(bench::Way way) {
  return way == bench::Way::both       ? "both ways"
         : way == bench::Way::to_units ? "on the way to the units"
                                       : "on the way to the masters";
}

std::string portion(double share, std::string_view of) {
  if (share >= 1.0) return "all " + std::string(of);
  return format_quantity(share, Dimension::ratio) + " of the " + std::string(of);
}

void install(bench::Bench& bench, const Action& action, std::unique_ptr<bench::Impairment> impairment,
             std::string sentence, SimTime at) {
  bench.lines().impair(action.target.index, action.kind->word, std::move(impairment), std::move(sentence),
                       at);
}

Duration pause_between_frames(const bench::Bench& bench, std::size_t line) {
  const bench::LineSpec& spec = bench.spec().lines.at(line);
  return bench::carries_rtu(spec.kind) && spec.paced ? t3_5(spec.serial) : Duration::zero();
}

// A CRC over a frame and its own CRC is 0.
bool intact(modbus::ByteView frame) { return frame.size() >= 4 && modbus::crc16(frame) == 0; }

void seal(modbus::Bytes& frame) {
  const std::uint16_t crc = modbus::crc16(modbus::ByteView(frame).first(frame.size() - 2));
  frame[frame.size() - 2] = static_cast<std::uint8_t>(crc & 0xFFu);
  frame[frame.size() - 1] = static_cast<std::uint8_t>(crc >> 8u);
}

}  // namespace emberline::faults
