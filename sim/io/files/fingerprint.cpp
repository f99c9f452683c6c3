#include "sim/io/files/fingerprint.hpp"

#include <array>
#include <cstdint>
#include <filesystem>
#include <fstream>
#include <sstream>

#include <sha2.h>
#include <sys/types.h>  // the next one does not say what it needs

#include "sim/base/plain_text.hpp"

namespace emberline::io {

rehearsal::InputFile fingerprint(const std::string& path) {
  rehearsal::InputFile result{one_line(std::filesystem::path(path).filename().string()), {}, path};
  std::ifstream file(path, std::ios::binary);
  std::ostringstream content;
  content << file.rdbuf();
  if (!file || file.bad()) return result;
  const auto bytes = std::move(content).str();
  std::array<char, SHA256_DIGEST_STRING_LENGTH> digits{};
  SHA256Data(reinterpret_cast<const std::uint8_t*>(bytes.data()), bytes.size(), digits.data());
  result.sha256 = digits.data();
  return result;
}

}  // namespace emberline::io
