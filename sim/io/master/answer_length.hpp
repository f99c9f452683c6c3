#pragma once

#include <cstddef>

#include "sim/modbus/bytes.hpp"

namespace emberline::io {

/// How many bytes libmodbus reads as one answer when the stream begins with `bytes`: it goes by the function
/// code and the byte count it finds, right or wrong, and gives up on a frame that would be too long where it
/// notices. 0: too few bytes to tell. It then says whether it makes sense of them; a length, once told, is
/// all it waits for. Follows what libmodbus 3.1 does; a test holds it against the library itself.
[[nodiscard]] std::size_t answer_length(modbus::ByteView bytes, bool rtu);

}  // namespace emberline::io
