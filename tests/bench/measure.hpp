#pragma once

#include <array>
#include <chrono>
#include <cstdint>
#include <optional>
#include <string>
#include <vector>

#include <sys/types.h>

namespace emberline::speed {

using Clock = std::chrono::steady_clock;

/// What was asked for on the command line.
struct Wanted {
  bool markdown = false;  ///< tables as Markdown
  int rounds = 7;         ///< of what is measured in turns
  std::string program;    ///< the `emberline` that is measured
};
[[nodiscard]] Wanted& wanted();

/// Ends the program with a sentence: an answer was not what it has to be (exit 1).
[[noreturn]] void broken(const std::string& what);
/// Ends the program with a sentence: the surroundings do not let it measure (exit 3).
[[noreturn]] void give_up(const std::string& what);

/// A folder of its own under the system's one for such, which goes when the program ends.
[[nodiscard]] const std::string& temporary_folder();

/// Processors this program may use when it began: the first is for what is measured, the second for what
/// measures. With just one both are the same.
struct Processors {
  int measured = 0;
  int measuring = 0;
  int count = 1;
};
[[nodiscard]] const Processors& processors();
/// Binds the calling thread, and what it starts, to a processor; or gives it back all that it had.
void bind_to(int processor);
void unbind();

/// Time of the processors that a process of ours has taken, all its threads together, in ns
/// (/proc/PID/task/*/schedstat); nothing if the system does not say.
[[nodiscard]] std::optional<double> processor_ns(pid_t process);
/// What a process holds in memory, in kB (VmRSS).
[[nodiscard]] double resident_kB(pid_t process);

/// Counts durations in buckets that are 1.6 % wide at most. Adding one allocates nothing.
class Histogram {
 public:
  void add(std::chrono::nanoseconds duration);
  /// 0 to 1; in microseconds.
  [[nodiscard]] double quantile_us(double part) const;
  [[nodiscard]] double largest_us() const { return static_cast<double>(largest_) / 1e3; }
  [[nodiscard]] std::uint64_t count() const { return count_; }

 private:
  static constexpr unsigned kFine = 64;  // buckets for each doubling
  std::array<std::uint64_t, 40 * kFine> buckets_{};
  std::uint64_t count_ = 0;
  std::uint64_t largest_ = 0;
};

/// A connection to a TCP port of this machine; below 0, with errno, if there is none.
[[nodiscard]] int connection_to(int port);

[[nodiscard]] double median(std::vector<double> values);

/// One table of the report. Cells are texts; the first column stands to the left.
class Table {
 public:
  explicit Table(std::vector<std::string> headings) : headings_(std::move(headings)) {}
  void row(std::vector<std::string> cells) { rows_.push_back(std::move(cells)); }
  /// To standard output, as text or as Markdown.
  void print(const std::string& title, const std::string& note = {}) const;

 private:
  std::vector<std::string> headings_;
  std::vector<std::vector<std::string>> rows_;
};

/// A number with so many digits behind the point.
[[nodiscard]] std::string number(double value, int digits = 0);

}  // namespace emberline::speed
