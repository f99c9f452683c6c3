#include "sim/io/control/input_lines.hpp"

#include <array>
#include <cerrno>
#include <csignal>
#include <utility>

#include <boost/asio/posix/stream_descriptor.hpp>
#include <boost/asio/post.hpp>
#include <boost/asio/steady_timer.hpp>
#include <fcntl.h>
#include <unistd.h>

#include "sim/io/control/hands.hpp"

namespace emberline::io {
namespace {

using boost::asio::posix::stream_descriptor;
using boost::system::error_code;

constexpr auto kInBackground = std::chrono::seconds{1};

/// Standard input as an opening of its own, where the system can: non-blocking mode would otherwise reach
/// whoever shares it, such as standard output on the same terminal.
int open_standard_input() {
  const int own = ::open("/proc/self/fd/0", O_RDONLY | O_NOCTTY | O_NONBLOCK | O_CLOEXEC);
  return own >= 0 ? own : ::fcntl(STDIN_FILENO, F_DUPFD_CLOEXEC, 0);
}

}  // namespace

class InputLines::Reader : public std::enable_shared_from_this<InputLines::Reader> {
 public:
  Reader(WallBench& wall, Takers takers)
      : takers_(std::move(takers)),
        input_(wall.context()),
        later_(wall.context()),
        cutter_({[this](const std::string& line) {
                   if (!closed_) takers_.line(line);
                 },
                 [this] {
                   if (!closed_) takers_.too_long();
                 }}) {}

  void start() {
    const int descriptor = open_standard_input();
    if (descriptor < 0) {  // a service has none
      end_soon();
      return;
    }
    if (::isatty(descriptor) != 0) {
      // In the background of a terminal, reading would stop the whole bench; ignored, it is an error instead.
      std::signal(SIGTTIN, SIG_IGN);
    }
    error_code error;
    input_.assign(descriptor, error);
    if (error) {
      ::close(descriptor);
      end_soon();
      return;
    }
    wait();
  }
  void close() {
    closed_ = true;
    later_.cancel();
    error_code ignored;
    input_.close(ignored);
  }

 private:
  void end_soon() {
    boost::asio::post(input_.get_executor(), [self = shared_from_this()] { self->ended(); });
  }
  void ended() {
    if (!closed_) takers_.ended();
  }
  void wait() {
    input_.async_wait(stream_descriptor::wait_read, [self = shared_from_this()](const error_code& error) {
      if (self->closed_ || error == boost::asio::error::operation_aborted) {
        return;
      }
      if (error) {
        // A file, or /dev/null: it cannot be waited for and never makes anybody wait.
        while (!self->closed_ && self->read_some(self->input_.native_handle())) {
        }
        self->input_.close();
        self->ended();
      } else if (self->read_some(self->input_.native_handle())) {
        self->wait();
      } else if (errno == EIO) {
        self->wait_for_foreground();
      } else {
        self->input_.close();
        self->ended();
      }
    });
  }
  void wait_for_foreground() {
    later_.expires_after(kInBackground);
    later_.async_wait([self = shared_from_this()](const error_code& error) {
      if (!error && !self->closed_) {
        self->wait();
      }
    });
  }
  /// False at the end (errno 0) or on an error (errno).
  bool read_some(int descriptor) {
    std::array<char, 1024> text{};
    const ssize_t count = ::read(descriptor, text.data(), text.size());
    if (count > 0) {
      cutter_.receive({text.data(), static_cast<std::size_t>(count)});
      return true;
    }
    if (count < 0) {
      return errno == EAGAIN || errno == EINTR;
    }
    cutter_.end();
    errno = 0;
    return false;
  }

  Takers takers_;
  stream_descriptor input_;
  boost::asio::steady_timer later_;
  LineCutter cutter_;
  bool closed_ = false;
};

InputLines::InputLines(WallBench& wall, Takers takers)
    : reader_(std::make_shared<Reader>(wall, std::move(takers))) {
  reader_->start();
}

InputLines::~InputLines() { reader_->close(); }

}  // namespace emberline::io
