#pragma once

#include <chrono>
#include <functional>
#include <string>
#include <vector>

#include <sys/types.h>

#include "tests/bench/measure.hpp"

namespace emberline::speed {

/// A process of ours that is measured. It is ended with the object, and by the system if this program dies.
class Child {
 public:
  /// A process that runs `serve` with a socket that listens on 127.0.0.1, bound to the processor for what is
  /// measured. `serve` never returns; connections send at once what is given them (TCP_NODELAY).
  [[nodiscard]] static Child answering(const std::function<void(int listener)>& serve);
  /// The same without a socket.
  [[nodiscard]] static Child running(const std::function<void()>& work);
  /// A program, bound likewise, with an empty standard input; what it says goes into a file.
  [[nodiscard]] static Child program(const std::vector<std::string>& words);
  ~Child();
  Child(Child&& other) noexcept;
  Child(const Child&) = delete;
  Child& operator=(const Child&) = delete;
  Child& operator=(Child&&) = delete;

  [[nodiscard]] pid_t process() const { return process_; }
  [[nodiscard]] int port() const { return port_; }                  ///< of answering()
  [[nodiscard]] Clock::time_point begun() const { return begun_; }  ///< just before it was started
  /// Ends this program, with what the child said, if the child has ended.
  void require_alive() const;

 private:
  Child() = default;
  pid_t process_ = -1;
  int port_ = 0;
  std::string said_;  ///< file with what it says
  Clock::time_point begun_{};
};

/// `emberline serve` of a bench file, ready to answer.
class Served {
 public:
  /// `extra`: further words of the command line. Waits until the ready file is there.
  explicit Served(const std::string& bench, std::vector<std::string> extra = {"--panel", "off"});
  /// The same of several benches in one process, by this program itself: for more units than a file holds.
  explicit Served(const std::vector<std::string>& shares);

  [[nodiscard]] pid_t process() const { return child_.process(); }
  [[nodiscard]] const Child& child() const { return child_; }
  [[nodiscard]] int port(const std::string& line) const;          ///< of a TCP line
  [[nodiscard]] std::string path(const std::string& line) const;  ///< of a pseudo-terminal
  /// From just before the process was made until its ready file was there.
  [[nodiscard]] std::chrono::duration<double, std::milli> took_to_be_ready() const { return ready_; }

 private:
  void wait();
  [[nodiscard]] std::string value_of(const std::string& line, const std::string& key) const;
  std::string ready_file_;
  Child child_;
  std::chrono::duration<double, std::milli> ready_{};
  std::string text_;  ///< of the ready file
};

}  // namespace emberline::speed
