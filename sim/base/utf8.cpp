#include "sim/base/utf8.hpp"

namespace emberline {
namespace {

/// What the characters that begin with one byte look like: how long they are, and where their second byte
/// lies. The further ones lie between 80 and BF.
struct Form {
  std::size_t length = 0;  ///< 0: none begins so
  unsigned least = 0x80U;
  unsigned most = 0xBFU;
};

// The table of RFC 3629, section 4, row by row.
Form form_of(unsigned lead) {
  if (lead < 0x80U) return {1};
  if (lead < 0xC2U) return {};
  if (lead < 0xE0U) return {2};
  if (lead == 0xE0U) return {3, 0xA0U};
  if (lead == 0xEDU) return {3, 0x80U, 0x9FU};
  if (lead < 0xF0U) return {3};
  if (lead == 0xF0U) return {4, 0x90U};
  if (lead < 0xF4U) return {4};
  if (lead == 0xF4U) return {4, 0x80U, 0x8FU};
  return {};
}

}  // namespace

std::optional<std::size_t> first_not_utf8(std::string_view text) {
  const auto byte = [text](std::size_t i) -> unsigned { return static_cast<unsigned char>(text[i]); };
  for (std::size_t i = 0; i < text.size();) {
    const auto form = form_of(byte(i));
    if (form.length == 0 || i + form.length > text.size()) return i;
    if (form.length > 1 && (byte(i + 1) < form.least || byte(i + 1) > form.most)) return i;
    for (std::size_t k = 2; k < form.length; ++k)
      if ((byte(i + k) & 0xC0U) != 0x80U) return i;
    i += form.length;
  }
  return std::nullopt;
}

std::optional<std::size_t> first_not_text(std::string_view bytes) {
  const auto zero = bytes.find('\0');
  if (const auto bad = first_not_utf8(bytes.substr(0, zero))) return bad;
  return zero == std::string_view::npos ? std::nullopt : std::optional(zero);
}

}  // namespace emberline
