#pragma once

#include <optional>
#include <string>
#include <vector>

#include "sim/bench/bench_spec.hpp"
#include "sim/modbus/bytes.hpp"

namespace emberline::io {

/// A frame as it stood on a line, for taking apart.
struct FrameToRead {
  std::size_t line = 0;
  bool to_units = true;
  modbus::ByteView bytes;    ///< whole: with id and CRC, or with its MBAP header
  modbus::ByteView request;  ///< of an answer: the whole frame it answers; empty: not known
  bool broken = false;       ///< no frame could be made out
};

/// A piece of a frame.
struct FrameField {
  std::string bytes;  ///< "00 0A"
  std::string name;   ///< "first address"
  std::string means;  ///< "0x000A (40011)"
};

/// A frame in plain words.
struct FrameWords {
  std::string says;                ///< one sentence: "asks soak-heater for 2 input registers from ..."
  std::vector<FrameField> fields;  ///< all its bytes, in their order
  std::optional<std::string> trouble;
  std::optional<int> unit_id;
  std::string slave;  ///< who has the id on this line; empty: nobody
};

/// Takes a frame apart, with the register tables and the wiring of the bench.
[[nodiscard]] FrameWords words_of(const bench::BenchSpec& spec, const FrameToRead& frame);
/// "01 03 00 0A"
[[nodiscard]] std::string hex_text(modbus::ByteView bytes);

}  // namespace emberline::io
