#pragma once

#include <atomic>
#include <cstdint>
#include <thread>
#include <vector>

namespace emberline::speed {

/// Pages of a panel that are subscribed and throw away what they get, all in one thread that yields to every
/// other: browsers have machines of their own.
class PageCrowd {
 public:
  PageCrowd(int port, int pages);
  ~PageCrowd();
  PageCrowd(const PageCrowd&) = delete;
  PageCrowd& operator=(const PageCrowd&) = delete;
  [[nodiscard]] std::uint64_t bytes() const { return bytes_; }

 private:
  void drain();
  std::vector<int> sockets_;
  int poll_;
  std::atomic<bool> ended_{false};
  std::atomic<std::uint64_t> bytes_{0};
  std::thread thread_;
};

}  // namespace emberline::speed
