#pragma once

#include <string>

#include "sim/rehearsal/evidence.hpp"

namespace emberline::io {

/// Name, path and SHA-256 (FIPS 180-4) of a file as it is on disk now, byte for byte. The digest is empty
/// when the file cannot be read.
[[nodiscard]] rehearsal::InputFile fingerprint(const std::string& path);

}  // namespace emberline::io
