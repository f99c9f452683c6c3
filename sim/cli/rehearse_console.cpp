#include "sim/cli/rehearse_console.hpp"

#include <algorithm>

#include <sys/ioctl.h>
#include <unistd.h>

#include "sim/base/listed.hpp"

namespace emberline::cli {
namespace {

constexpr std::size_t kUsualWidth = 80;

std::size_t terminal_width() {
  struct winsize size {};
  if (::ioctl(STDOUT_FILENO, TIOCGWINSZ, &size) != 0 || size.ws_col == 0) return kUsualWidth;
  return size.ws_col;
}

/// The first `count` characters of UTF-8 text, none of them torn.
std::string shortened(const std::string& text, std::size_t count) {
  std::size_t characters = 0;
  for (std::size_t i = 0; i < text.size(); ++i) {
    const bool begins = (static_cast<unsigned char>(text[i]) & 0xC0) != 0x80;
    if (begins && characters++ == count) return text.substr(0, i);
  }
  return text;
}

}  // namespace

std::string progress_line(std::size_t done, std::size_t total, std::size_t failed,
                          const std::vector<std::string>& running, std::size_t width) {
  std::string text = std::to_string(done) + "/" + std::to_string(total) + " done";
  if (failed > 0) text += ", " + std::to_string(failed) + " failed";
  if (!running.empty()) text += "; running: " + listed(running);
  // The last column stays free: a terminal would go on to the next line.
  const std::size_t most = width > 1 ? width - 1 : 1;
  const auto fits = shortened(text, most);
  return fits.size() == text.size() || most < 4 ? fits : shortened(text, most - 3) + "...";
}

Console::Console(std::size_t rehearsals)
    : total_(rehearsals), shown_(rehearsals > 1 && rewriting_possible()) {}

Console::~Console() {
  const std::lock_guard lock(mutex_);
  take_away();
}

void Console::take_away() {
  if (on_line_) queue_.print("\r\x1b[K");
  on_line_ = false;
}

void Console::draw() {
  if (!shown_ || done_ == total_) return;
  queue_.print("\r\x1b[K" + progress_line(done_, total_, failed_, running_, terminal_width()));
  on_line_ = true;
}

void Console::say(std::string_view text) {
  const std::lock_guard lock(mutex_);
  take_away();
  queue_.print(std::string(text));
  draw();
}

void Console::warn(std::string_view message) {
  const std::lock_guard lock(mutex_);
  take_away();
  queue_.complain(std::string(message));
  draw();
}

void Console::began(const std::string& name) {
  const std::lock_guard lock(mutex_);
  running_.push_back(name);
  draw();
}

void Console::ended(const std::string& name, bool passed) {
  const std::lock_guard lock(mutex_);
  if (const auto at = std::find(running_.begin(), running_.end(), name); at != running_.end())
    running_.erase(at);
  ++done_;
  failed_ += passed ? 0 : 1;
  take_away();
  draw();
}

}  // namespace emberline::cli
