#pragma once

#include <utility>

namespace emberline::io {

/// Owns a file descriptor.
class FileDescriptor {
 public:
  FileDescriptor() = default;
  explicit FileDescriptor(int number) : number_(number) {}
  FileDescriptor(FileDescriptor&& other) noexcept : number_(std::exchange(other.number_, -1)) {}
  FileDescriptor& operator=(FileDescriptor&& other) noexcept {
    std::swap(number_, other.number_);
    return *this;
  }
  FileDescriptor(const FileDescriptor&) = delete;
  FileDescriptor& operator=(const FileDescriptor&) = delete;
  ~FileDescriptor() { close(); }
  void close();
  [[nodiscard]] int number() const { return number_; }
  [[nodiscard]] bool open() const { return number_ >= 0; }

 private:
  int number_ = -1;
};

/// Two ends of a private stream: `ours` for the scheduler, `theirs` for libmodbus. Both are closed when the
/// system has none left, or none that libmodbus can wait for (it uses select()).
struct SocketPair {
  FileDescriptor ours;
  FileDescriptor theirs;
};
[[nodiscard]] SocketPair make_socket_pair();

}  // namespace emberline::io
