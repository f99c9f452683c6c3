#pragma once

#include <string>
#include <utility>

#include "sim/base/result.hpp"

namespace emberline::cli {

/// The file of `--ready-file`: there as long as a bench answers, gone when it is stopped and when the program
/// crashes. What somebody else has put in its place stays. Without a path it does nothing.
class ReadyFile {
 public:
  explicit ReadyFile(std::string path) : path_(std::move(path)) {}
  ~ReadyFile() { remove(); }
  ReadyFile(const ReadyFile&) = delete;
  ReadyFile& operator=(const ReadyFile&) = delete;

  [[nodiscard]] bool wanted() const { return !path_.empty(); }
  /// Writes it, whole or not at all, also again; the error is one line.
  [[nodiscard]] Result<Done, std::string> write(const std::string& text);
  /// Takes it away, if it was written.
  void remove();

 private:
  std::string path_;
  std::string place_;  ///< behind links
  bool written_ = false;
};

}  // namespace emberline::cli
