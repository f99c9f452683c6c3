#include "sim/cli/panel_options.hpp"

#include <algorithm>
#include <array>
#include <cerrno>
#include <utility>

#include <CLI/CLI.hpp>
#include <fcntl.h>
#include <sys/stat.h>
#include <unistd.h>

#include "sim/io/line/descriptor.hpp"
#include "sim/io/panel/access.hpp"

namespace emberline::cli {
namespace {

constexpr std::size_t kShortestToken = 16;  // characters
constexpr std::size_t kLongestToken = 256;

/// The file's text, if nobody but its owner can read it.
Result<std::string, std::string> private_text(const std::string& file) {
  const io::Descriptor opened(::open(file.c_str(), O_RDONLY | O_CLOEXEC | O_NONBLOCK));
  struct stat info {};
  if (!opened.open() || ::fstat(opened.number(), &info) != 0)
    return Failure{file + ": cannot be read: " + io::system_words(errno)};
  if (!S_ISREG(info.st_mode))
    return Failure{file + ": is no file; expected one with a token in its first line"};
  if ((info.st_mode & 0077) != 0)
    return Failure{file + ": others can read it; expected a token that only its owner can read (chmod 600)"};
  std::array<char, 2 * kLongestToken + 8> text{};
  const auto length = ::read(opened.number(), text.data(), text.size());
  if (length < 0) return Failure{file + ": cannot be read: " + io::system_words(errno)};
  return std::string(text.data(), static_cast<std::size_t>(length));
}

/// The first line, which is taken away.
std::string take_line(std::string& text) {
  const auto end = std::min(text.find('\n'), text.size());
  auto line = text.substr(0, end);
  text.erase(0, std::min(end + 1, text.size()));
  if (line.ends_with('\r')) line.pop_back();
  return line;
}

bool usable(const std::string& token) {
  return token.size() >= kShortestToken && token.size() <= kLongestToken &&
         std::all_of(token.begin(), token.end(), [](char c) { return c > ' ' && c < 0x7F; });
}

}  // namespace

void add_panel_options(CLI::App* command, PanelOptions& options) {
  command->add_option(
      "--panel", options.address,
      "Where a browser sees the bench: [HOST:]PORT or off; default 127.0.0.1:8710, or any free "
      "port");
  command->add_option("--panel-token", options.token_file,
                      "File with the trainer's token, and in a second line the class's; needed for any HOST "
                      "but this machine alone");
  command->add_option(
      "--panel-name", options.names,
      "A name by which others ask for the panel, such as oven.example; may stand several times");
}

Result<PanelTokens, std::string> read_tokens(const std::string& file) {
  auto text = private_text(file);
  if (!text) return Failure{text.error()};
  auto rest = std::move(text).value();
  PanelTokens tokens;
  tokens.trainer = take_line(rest);
  tokens.watcher = take_line(rest);
  if (!usable(tokens.trainer) || (!tokens.watcher.empty() && !usable(tokens.watcher)) || !rest.empty())
    return Failure{file + ": expected one or two lines, each a token of " + std::to_string(kShortestToken) +
                   " to " + std::to_string(kLongestToken) + " characters without blanks"};
  if (tokens.trainer == tokens.watcher)
    return Failure{file + ": the class's token is the trainer's; expected another one"};
  return tokens;
}

Result<std::optional<io::PanelAddress>, std::string> panel_address(
    const PanelOptions& options, const std::optional<bench::PanelSpec>& of_bench) {
  bench::PanelSpec spec = of_bench.value_or(bench::PanelSpec{});
  if (!options.address.empty()) {
    auto given = bench::parse_panel(options.address);
    if (!given) return Failure{"--panel: " + given.error()};
    spec = std::move(given).value();
  }
  if (spec.off) {
    if (!options.token_file.empty() || !options.names.empty())
      return Failure{std::string(options.token_file.empty() ? "--panel-name" : "--panel-token") +
                     " is of no use: the panel is off; expected --panel [HOST:]PORT, or neither"};
    return std::optional<io::PanelAddress>();
  }
  io::PanelAddress address;
  address.host = spec.host;
  address.port = spec.port;
  address.any_port_if_taken = options.address.empty() && !of_bench;
  address.names = options.names;
  if (!options.token_file.empty()) {
    auto tokens = read_tokens(options.token_file);
    if (!tokens) return Failure{"--panel-token: " + tokens.error()};
    address.trainer_token = tokens->trainer;
    address.watcher_token = tokens->watcher;
  } else if (!io::is_loopback(address.host)) {
    return Failure{"panel: other machines can reach " + address.host +
                   "; expected --panel-token FILE with a token beside it"};
  }
  return std::optional(std::move(address));
}

std::string panel_banner(const std::string& url, const io::PanelAddress& address) {
  std::string text = "  panel: " + url;
  if (!address.trainer_token.empty()) text += " (asks for a token)";
  if (!io::is_loopback(address.host))
    text += "; other machines can reach it, unencrypted: trusted networks only";
  return text + "\n";
}

}  // namespace emberline::cli
