#pragma once

#include <array>
#include <cstdint>
#include <memory>
#include <vector>

#include <boost/asio/io_context.hpp>
#include <boost/asio/posix/stream_descriptor.hpp>
#include <sys/epoll.h>

#include "sim/io/line/descriptor.hpp"

namespace emberline::io {

/// Tells connections when their sockets can be read or written. The io_context looks after one descriptor
/// that stands for all of them: a request then costs one call to read it and one to answer it, and next to
/// nothing to learn that it is there. Sockets are told as long as they are ready, not only when they become
/// so: what nobody wants to hear of must not be watched. Not thread-safe; never throws.
class Readiness {
 public:
  /// Something with a socket.
  class Watched {
   public:
    virtual ~Watched() = default;
    /// Its socket can be read or written, or has failed, which reading and writing will tell.
    virtual void ready(bool to_read, bool to_write) = 0;
    /// All that were ready at the same time have been told, or as many as a round takes. What leaves now
    /// leaves together: a master that sleeps has to be woken, which costs more than an answer, and one with
    /// many connections is woken once.
    virtual void round_over() = 0;
  };
  /// What stands for a socket here.
  using Place = std::uint32_t;

  explicit Readiness(boost::asio::io_context& context);
  /// False when the system has no room for it; nothing else may be called then.
  [[nodiscard]] bool usable() const { return set_.is_open(); }

  /// A place for a socket, which is not watched yet. `who` is kept until remove().
  [[nodiscard]] Place add(int socket, std::shared_ptr<Watched> who);
  /// From now on it is told of this and of nothing else. False when the system has no room for it.
  [[nodiscard]] bool watch(Place place, bool reading, bool writing);
  /// It is told of nothing any more. To be called before the socket is closed.
  void remove(Place place);

 private:
  struct Entry {
    int socket = -1;
    std::uint32_t events = 0;  // 0: not with the system
    std::shared_ptr<Watched> who;
  };
  void wait();
  void rounds();
  int round();

  boost::asio::posix::stream_descriptor set_;
  std::vector<Entry> entries_;
  std::vector<Place> free_;
  std::vector<Place> removed_;  // not to be given away before the round is over
  std::vector<std::shared_ptr<Watched>> told_;
  // So many a round: of more, what the first have touched is no longer at hand when they are answered.
  std::array<epoll_event, 32> events_{};
  bool waiting_ = false;
};

}  // namespace emberline::io
