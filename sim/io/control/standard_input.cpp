#include "sim/io/control/standard_input.hpp"

#include <utility>

#include "sim/io/control/hands.hpp"

namespace emberline::io {

/// An answer may come when nobody listens any more.
struct StandardInput::Listener {
  std::function<void(const std::string&)> say;
};

StandardInput::StandardInput(const Hands& hands, std::function<void(const std::string&)> say)
    : listener_(std::make_shared<Listener>(Listener{std::move(say)})),
      lines_(hands.wall, {[hands, listener = std::weak_ptr(listener_)](const std::string& line) {
                            if (line.find_first_not_of(" \t\r") == std::string::npos) {
                              return;
                            }
                            do_line(hands, line, [listener](const std::string& answer) {
                              if (const auto there = listener.lock()) {
                                there->say(answer);
                              }
                            });
                          },
                          [listener = std::weak_ptr(listener_)] {
                            if (const auto there = listener.lock()) {
                              there->say(too_long_answer());
                            }
                          },
                          [] {}}) {}

StandardInput::~StandardInput() = default;

}  // namespace emberline::io
