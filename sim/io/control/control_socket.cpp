#include "sim/io/control/control_socket.hpp"

#include <array>
#include <cerrno>
#include <deque>
#include <optional>
#include <set>
#include <system_error>
#include <utility>

#include <boost/asio/buffer.hpp>
#include <boost/asio/local/stream_protocol.hpp>
#include <boost/asio/steady_timer.hpp>
#include <boost/asio/write.hpp>
#include <fcntl.h>
#include <sys/socket.h>
#include <sys/stat.h>
#include <sys/un.h>
#include <unistd.h>

#include "sim/io/line/left_behind.hpp"

namespace emberline::io {
namespace {

using boost::asio::local::stream_protocol;
using boost::system::error_code;

// With so much unread its client is listened to no further, and after a while it is taken for gone: some
// answers are long, and many clients may hang.
constexpr std::size_t kMostUnread_B = 64 * 1024;
constexpr auto kPatience = std::chrono::seconds{10};
constexpr auto kShortOfDescriptors = std::chrono::milliseconds{100};

std::string words_of(int error) { return std::generic_category().message(error); }

std::string parent_of(const std::string& path) {
  const auto slash = path.rfind('/');
  return slash == std::string::npos ? "." : slash == 0 ? "/" : path.substr(0, slash);
}

/// Makes the folder of the socket, for its owner only; one that is there must not belong to somebody else,
/// who could put another socket in its place.
std::optional<std::string> prepare_folder(const std::string& folder) {
  struct stat there {};
  if (::stat(folder.c_str(), &there) == 0) {
    if (!S_ISDIR(there.st_mode)) {
      return folder + " is no folder; expected one for the control socket";
    }
    if (there.st_uid != ::geteuid() && there.st_uid != 0) {
      return "the folder " + folder + " belongs to another user; expected one of yours";
    }
    return std::nullopt;
  }
  const std::string above = parent_of(folder);
  if (above != folder) {
    if (auto problem = prepare_folder(above)) {
      return problem;
    }
  }
  if (::mkdir(folder.c_str(), 0700) != 0 && errno != EEXIST) {
    return "cannot make the folder " + folder + ": " + words_of(errno);
  }
  return std::nullopt;
}

/// Removes a socket nobody listens at; says what else is in the way.
std::optional<std::string> clear_place(const std::string& path) {
  struct stat there {};
  if (::lstat(path.c_str(), &there) != 0) {
    return std::nullopt;
  }
  if (!S_ISSOCK(there.st_mode)) {
    return path + " is something else than a control socket and is left alone; expected nothing there";
  }
  const int probe = ::socket(AF_UNIX, SOCK_STREAM | SOCK_NONBLOCK | SOCK_CLOEXEC, 0);
  const stream_protocol::endpoint endpoint(path);
  const bool stale = probe >= 0 &&
                     ::connect(probe, endpoint.data(), static_cast<socklen_t>(endpoint.size())) != 0 &&
                     errno == ECONNREFUSED;
  if (probe >= 0) {
    ::close(probe);
  }
  if (!stale) {
    return "another bench is running behind " + path + "; expected a path of this bench's own (--control)";
  }
  ::unlink(path.c_str());
  return std::nullopt;
}

}  // namespace

class ControlSocket::Server : public std::enable_shared_from_this<ControlSocket::Server> {
 public:
  explicit Server(Hands the_hands)
      : hands(std::move(the_hands)), acceptor_(hands.wall.context()), retry_(hands.wall.context()) {}

  std::optional<std::string> open(const std::string& path);
  void wait_for_hands();
  void close();

  const Hands hands;

 private:
  class Conversation;

  stream_protocol::acceptor acceptor_;
  boost::asio::steady_timer retry_;
  std::set<std::shared_ptr<Conversation>> conversations_;
  std::string path_;
  struct stat ours_ {};
};

/// One connection: lines in, answers out, in order.
class ControlSocket::Server::Conversation : public std::enable_shared_from_this<Conversation> {
 public:
  Conversation(std::shared_ptr<Server> server, stream_protocol::socket socket)
      : server_(std::move(server)),
        socket_(std::move(socket)),
        patience_(socket_.get_executor()),
        cutter_({[this](const std::string& line) { take(line); }, [this] { answer(too_long_answer()); }}) {}

  void read() {
    socket_.async_read_some(boost::asio::buffer(inbox_),
                            [self = shared_from_this()](const error_code& error, std::size_t count) {
                              if (self->closed_) {
                                return;
                              }
                              self->cutter_.receive({self->inbox_.data(), count});
                              if (error) {
                                self->cutter_.end();
                                self->ended_ = true;
                                self->close_when_done();
                                return;
                              }
                              if (self->unread_B_ > kMostUnread_B) {
                                self->pause();
                              } else {
                                self->read();
                              }
                            });
  }
  void close() {
    closed_ = true;
    patience_.cancel();
    error_code ignored;
    socket_.close(ignored);
  }

 private:
  void take(const std::string& line) {
    ++under_way_;
    const auto say = [self = shared_from_this()](std::string text) {
      --self->under_way_;
      if (!self->closed_) {
        self->answer(std::move(text));
      }
    };
    do_line(server_->hands, line, say);
  }
  void answer(std::string text) {
    answers_.push_back(std::move(text) + "\n");
    unread_B_ += answers_.back().size();
    if (answers_.size() == 1) {
      write();
    }
  }
  void write() {
    boost::asio::async_write(socket_, boost::asio::buffer(answers_.front()),
                             [self = shared_from_this()](const error_code& error, std::size_t) {
                               if (error || self->closed_) {
                                 self->ended_ = true;
                                 self->answers_.clear();
                               } else {
                                 self->unread_B_ -= self->answers_.front().size();
                                 self->answers_.pop_front();
                                 self->go_on();
                                 if (!self->answers_.empty()) {
                                   self->write();
                                 }
                               }
                               self->close_when_done();
                             });
  }
  void pause() {
    paused_ = true;
    patience_.expires_after(kPatience);
    patience_.async_wait([self = shared_from_this()](const error_code& cancelled) {
      if (!cancelled && !self->closed_ && self->paused_) {
        self->leave();
      }
    });
  }
  void go_on() {
    if (paused_ && unread_B_ <= kMostUnread_B && !closed_) {
      paused_ = false;
      patience_.cancel();
      read();
    }
  }
  void close_when_done() {
    if (ended_ && answers_.empty() && under_way_ == 0) {
      leave();
    }
  }
  void leave() {
    close();
    server_->conversations_.erase(shared_from_this());
  }

  std::shared_ptr<Server> server_;
  stream_protocol::socket socket_;
  boost::asio::steady_timer patience_;
  LineCutter cutter_;
  std::array<char, 256> inbox_{};
  std::deque<std::string> answers_;
  std::size_t unread_B_ = 0;  // of the answers
  bool paused_ = false;       // it is not listened to
  int under_way_ = 0;
  bool ended_ = false;
  bool closed_ = false;
};

std::optional<std::string> ControlSocket::Server::open(const std::string& path) {
  if (path.empty() || path.size() >= sizeof(sockaddr_un::sun_path)) {
    return "cannot listen at " + path + ": the path of a Unix socket takes 1 to " +
           std::to_string(sizeof(sockaddr_un::sun_path) - 1) + " characters";
  }
  if (auto problem = prepare_folder(parent_of(path))) {
    return problem;
  }
  if (auto problem = clear_place(path)) {
    return problem;
  }
  error_code error;
  acceptor_.open(stream_protocol(), error);
  if (!error) {
    // Set before it has a name, so that it never stands there with wider permissions.
    ::fchmod(acceptor_.native_handle(), 0600);
    acceptor_.bind(stream_protocol::endpoint(path), error);
  }
  if (!error) {
    path_ = path;
    ::lstat(path.c_str(), &ours_);
    note_left_behind(path);
    acceptor_.listen(boost::asio::socket_base::max_listen_connections, error);
  }
  if (error) {
    return "cannot listen at " + path + ": " + error.message();
  }
  return std::nullopt;
}

void ControlSocket::Server::wait_for_hands() {
  acceptor_.async_accept(
      [self = shared_from_this()](const error_code& error, stream_protocol::socket socket) {
        if (!self->acceptor_.is_open()) {
          return;
        }
        if (!error) {
          auto conversation = std::make_shared<Conversation>(self, std::move(socket));
          self->conversations_.insert(conversation);
          conversation->read();
          self->wait_for_hands();
          return;
        }
        self->retry_.expires_after(kShortOfDescriptors);
        self->retry_.async_wait([self](const error_code& cancelled) {
          if (!cancelled && self->acceptor_.is_open()) {
            self->wait_for_hands();
          }
        });
      });
}

void ControlSocket::Server::close() {
  error_code ignored;
  acceptor_.close(ignored);
  retry_.cancel();
  for (const auto& conversation : conversations_) {
    conversation->close();
  }
  conversations_.clear();
  struct stat there {};
  if (!path_.empty() && ::lstat(path_.c_str(), &there) == 0 && there.st_dev == ours_.st_dev &&
      there.st_ino == ours_.st_ino) {
    ::unlink(path_.c_str());
  }
  forget_left_behind(path_);
  path_.clear();
}

ControlSocket::ControlSocket() = default;

ControlSocket::~ControlSocket() {
  if (server_) {
    server_->close();
  }
}

Result<std::unique_ptr<ControlSocket>, std::string> ControlSocket::open(const Hands& hands,
                                                                        const std::string& path) {
  std::unique_ptr<ControlSocket> control(new ControlSocket());
  control->server_ = std::make_shared<Server>(hands);
  if (auto problem = control->server_->open(path)) {
    return Failure{std::move(*problem)};
  }
  control->server_->wait_for_hands();
  return control;
}

}  // namespace emberline::io
