#pragma once

#include <string>

#include "sim/modbus/pdu.hpp"

namespace emberline::rehearsal {

/// An exception code in words, as in MODBUS Application Protocol V1.1b3, section 7: "illegal data address
/// (02)". Codes from other slaves that we never send ourselves are known too.
[[nodiscard]] std::string refusal_words(modbus::Refusal refusal);

}  // namespace emberline::rehearsal
