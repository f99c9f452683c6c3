#pragma once

#include <string>

#include "sim/modbus/pdu.hpp"

namespace emberline::rehearsal {

/// An exception code in words, as in MODBUS Application Protocol V1.1b3, section 7: "illegal data address
/// (02)". Codes from other slaves that we never send ourselves are known too.
[[nodiscard]] std::string refusal_words(modbus::Refusal refusal);
/// The same as a noun, by its number first: "exception 02 (illegal data address)", "exception 07".
[[nodiscard]] std::string exception_words(modbus::Refusal refusal);

}  // namespace emberline::rehearsal
