#pragma once

#include <string>

#include "sim/io/panel/frame_words.hpp"
#include "sim/io/panel/point_words.hpp"

namespace emberline::io {

/// Takes the PDU of a request apart (MODBUS Application Protocol V1.1b3, section 6): adds its fields and sets
/// what it says.
void read_request_pdu(const SlaveView& slave, modbus::ByteView pdu, FrameWords& words);
/// The same of an answer. `request`: the PDU it answers; empty: not known.
void read_answer_pdu(const SlaveView& slave, modbus::ByteView pdu, modbus::ByteView request,
                     FrameWords& words);

/// "read holding registers"; empty for a function that the standard does not have.
[[nodiscard]] std::string function_words(std::uint8_t function);
/// "illegal data address: ..." (section 7 of the same).
[[nodiscard]] std::string exception_words(std::uint8_t code);

}  // namespace emberline::io
