#pragma once

#include <string>
#include <vector>

#include <sys/types.h>

namespace emberline::testing {

/// What a finished program said and how it ended.
struct Finished {
  int status = -1;  ///< exit status; 128 + signal when killed
  std::string out;
  std::string err;
};

/// Where the built `emberline` is.
[[nodiscard]] std::string emberline_path();

/// Runs the built `emberline` with these arguments to its end, standard input closed.
Finished run_emberline(const std::vector<std::string>& arguments);

/// The same with standard output on a terminal of `columns` columns whose TERM is `kind`; `out` holds what
/// the terminal was sent.
Finished run_on_terminal(const std::vector<std::string>& arguments, const std::string& kind, int columns);

/// An `emberline` that goes on running until it is stopped; killed when the test ends.
class Background {
 public:
  explicit Background(const std::vector<std::string>& arguments);
  ~Background();
  Background(const Background&) = delete;
  Background& operator=(const Background&) = delete;

  /// Writes a line to its standard input.
  void type(const std::string& line) const;
  /// Closes its standard input.
  void end_of_input();
  /// Waits until a file is there; false if the program ended or two minutes went by first.
  [[nodiscard]] bool wait_for_file(const std::string& path) const;
  /// Waits for the end by itself.
  Finished wait();
  /// Waits until its standard output holds `text`; false if the program ended or two minutes went by first.
  [[nodiscard]] bool wait_for_output(const std::string& text) const { return wait_for_output(text, 1); }
  /// Waits until it holds it so many times.
  [[nodiscard]] bool wait_for_output(const std::string& text, int times) const;
  /// True if its standard output holds it now.
  [[nodiscard]] bool said(const std::string& text) const;
  /// Sends a signal and waits for the end.
  Finished stop(int signal);
  [[nodiscard]] pid_t pid() const { return pid_; }

 private:
  [[nodiscard]] std::string output() const;
  std::string folder_;
  pid_t pid_ = -1;
  int input_ = -1;
};

/// A folder of its own, removed with everything in it.
class TemporaryFolder {
 public:
  TemporaryFolder();
  ~TemporaryFolder();
  TemporaryFolder(const TemporaryFolder&) = delete;
  TemporaryFolder& operator=(const TemporaryFolder&) = delete;
  [[nodiscard]] std::string file(const std::string& name) const { return path_ + "/" + name; }
  /// Writes a file and gives its path.
  std::string write(const std::string& name, const std::string& content) const;

 private:
  std::string path_;
};

[[nodiscard]] std::string read_file(const std::string& path);

}  // namespace emberline::testing
