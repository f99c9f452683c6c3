#include "sim/bench/panel_spec.hpp"

#include <charconv>

namespace emberline::bench {
namespace {

constexpr std::string_view kLetters = "abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789-.";

bool only_of(std::string_view text, std::string_view characters) {
  return !text.empty() && text.find_first_not_of(characters) == std::string_view::npos;
}

/// The host without brackets; empty if it is none.
std::string_view host_of(std::string_view text) {
  if (text.starts_with('[') && text.ends_with(']')) {
    const auto inside = text.substr(1, text.size() - 2);
    return only_of(inside, "0123456789abcdefABCDEF:.") ? inside : std::string_view{};
  }
  return only_of(text, kLetters) && !text.starts_with('-') && !text.starts_with('.') ? text
                                                                                     : std::string_view{};
}

bool read_port(std::string_view text, std::uint16_t& port) {
  const auto* end = text.data() + text.size();
  const auto [rest, error] = std::from_chars(text.data(), end, port);
  return !text.empty() && error == std::errc{} && rest == end;
}

}  // namespace

Result<PanelSpec, std::string> parse_panel(std::string_view text) {
  PanelSpec spec;
  if (text == "off") {
    spec.off = true;
    return spec;
  }
  const auto colon = text.rfind(':');
  if (colon != std::string_view::npos) spec.host = host_of(text.substr(0, colon));
  const auto port = colon == std::string_view::npos ? text : text.substr(colon + 1);
  if (spec.host.empty() || !read_port(port, spec.port))
    return Failure{
        "expected 'off', a port such as 8710, or a host and a port such as '127.0.0.1:8710', found '" +
        std::string(text) + "'"};
  return spec;
}

}  // namespace emberline::bench
