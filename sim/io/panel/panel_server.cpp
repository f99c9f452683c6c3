#include "sim/io/panel/panel_server.hpp"

#include <array>
#include <atomic>
#include <deque>
#include <exception>
#include <mutex>
#include <optional>
#include <set>
#include <thread>
#include <utility>

#include <boost/asio/io_context.hpp>
#include <boost/asio/ip/tcp.hpp>
#include <boost/asio/post.hpp>
#include <boost/asio/steady_timer.hpp>
#include <boost/asio/write.hpp>
#include <boost/beast/core/buffers_to_string.hpp>
#include <boost/beast/core/flat_buffer.hpp>
#include <boost/beast/core/tcp_stream.hpp>
#include <boost/beast/http.hpp>
#include <boost/beast/websocket.hpp>
#include <spdlog/spdlog.h>
#include <sys/resource.h>
#include <unistd.h>

#include "sim/io/line/tcp_listener.hpp"
#include "sim/io/panel/access.hpp"
#include "sim/io/panel/access_strangers.hpp"
#include "sim/io/panel/assets.hpp"
#include "sim/io/panel/http_text.hpp"
#include "sim/io/panel/json_bits.hpp"

// All that knows Boost.Beast on this side stands in this one file, longer than others for that reason: each
// file that includes it takes most of a minute to compile.

namespace emberline::io {
namespace {

namespace asio = boost::asio;
namespace beast = boost::beast;
namespace http = beast::http;
namespace websocket = beast::websocket;
using asio::ip::tcp;
using boost::system::error_code;
using Clock = std::chrono::steady_clock;

constexpr auto kTick = std::chrono::milliseconds{50};
constexpr auto kShortOfDescriptors = std::chrono::milliseconds{100};
constexpr auto kPageIdle = std::chrono::seconds{30};  // half of it, and the page is asked whether it is there
// Of the panel's thread: where there is not time enough for all, a line is answered first.
constexpr int kNiceness = 10;
// What the system itself keeps of what a page does not fetch; else it would be megabytes, seconds old.
constexpr int kSendBuffer = 64 * 1024;

/// The way to the panel's thread from any other, for as long as there is one.
class Mailbox {
 public:
  explicit Mailbox(asio::io_context& context) : context_(&context) {}
  template <class Task>
  void post(Task task) {
    const std::scoped_lock lock(mutex_);
    if (context_ != nullptr) asio::post(*context_, std::move(task));
  }
  void close() {
    const std::scoped_lock lock(mutex_);
    context_ = nullptr;
  }

 private:
  std::mutex mutex_;
  asio::io_context* context_;
};

/// An address as it is known to people: one of IPv4 that came as IPv6 is one of IPv4.
std::string text_of(const asio::ip::address& address) {
  if (address.is_v6() && address.to_v6().is_v4_mapped())
    return asio::ip::make_address_v4(asio::ip::v4_mapped, address.to_v6()).to_string();
  return address.to_string();
}

/// Whoever holds a connection.
class Guest {
 public:
  virtual ~Guest() = default;
  /// Ends it; called once, on the panel's thread.
  virtual void shut() = 0;
};

/// What all connections share.
struct House {
  House(PanelSite& the_site, PanelAddress the_address, PanelPatience the_patience)
      : site(the_site), address(std::move(the_address)), patience(the_patience) {}

  void enter(const std::shared_ptr<Guest>& guest) {
    guests.insert(guest);
    connections = guests.size();
  }
  void leave(const std::shared_ptr<Guest>& guest) {
    if (guests.erase(guest) != 0) guest->shut();
    connections = guests.size();
  }

  asio::io_context context{1};  // first, so that it goes last: what is left in it refers to the rest
  PanelSite& site;
  PanelAddress address;
  PanelPatience patience;
  std::shared_ptr<Mailbox> mailbox = std::make_shared<Mailbox>(context);
  std::optional<Access> access;
  std::set<std::shared_ptr<Guest>> guests;
  std::size_t turned_away = 0;  // of the guests
  Strangers strangers;          // of the guests
  std::atomic<std::uint64_t> requests{0}, refused{0}, connections{0}, live_pages{0}, messages{0},
      held_back{0}, waiting_bytes{0};
};

/// A page that is told what happens: a WebSocket.
class LiveConnection final : public Guest,
                             public LiveSink,
                             public std::enable_shared_from_this<LiveConnection> {
 public:
  LiveConnection(House& house, tcp::socket socket, Role role)
      : house_(house), socket_(std::move(socket)), role_(role), allowance_(kMessagesPerSecond) {}

  void accept(http::request<http::string_body> request) {
    request_ = std::move(request);
    socket_.set_option(websocket::stream_base::timeout{house_.patience.request, kPageIdle, true});
    socket_.set_option(websocket::stream_base::decorator(
        [](websocket::response_type& answer) { answer.set(http::field::server, "emberline"); }));
    socket_.read_message_max(kLongestMessage);
    socket_.auto_fragment(false);  // a text goes out in one piece, from where it is
    error_code ignored;
    auto& plain = beast::get_lowest_layer(socket_).socket();
    plain.set_option(asio::socket_base::send_buffer_size(kSendBuffer), ignored);
    plain.set_option(tcp::no_delay(true), ignored);
    // Pings are answered by themselves, and count as messages.
    socket_.control_callback([this](websocket::frame_type kind, beast::string_view) {
      if (kind != websocket::frame_type::ping || allowance_.take(Clock::now())) return;
      asio::post(house_.context, [self = shared_from_this()] { self->house_.leave(self); });
    });
    socket_.async_accept(request_, [self = shared_from_this()](const error_code& error) {
      if (self->closed_) return;
      if (error) return self->house_.leave(self);
      ++self->house_.live_pages;
      self->counted_ = true;
      self->page_ = self->house_.site.connected(self->role_, *self);
      self->read();
    });
  }

  bool send(SharedText text) override {
    if (closed_) return false;
    if (!waiting_.empty() &&
        (waiting_.size() >= kMostTextsWaiting || waiting_bytes_ + text->size() > kMostWaitingBytes)) {
      ++house_.held_back;
      return false;
    }
    waiting_bytes_ += text->size();
    house_.waiting_bytes += text->size();
    waiting_.push_back(std::move(text));
    if (waiting_.size() == 1 && counted_) write();
    return true;
  }

  void shut() override {
    closed_ = true;
    page_.reset();
    house_.waiting_bytes -= waiting_bytes_;
    if (counted_) --house_.live_pages;
    error_code ignored;
    beast::get_lowest_layer(socket_).socket().close(ignored);
    beast::get_lowest_layer(socket_).cancel();
  }

 private:
  void read() {
    socket_.async_read(inbox_, [self = shared_from_this()](const error_code& error, std::size_t) {
      if (self->closed_) return;
      if (error) return self->house_.leave(self);
      self->take();
    });
  }
  void take() {
    if (!allowance_.take(Clock::now())) return part(websocket::close_code::policy_error, "too many messages");
    if (!socket_.got_text()) return part(websocket::close_code::unknown_data, "expected text");
    const auto text = beast::buffers_to_string(inbox_.data());
    inbox_.consume(inbox_.size());
    if (page_) page_->told(text);
    if (!closed_ && !parting_) read();
  }
  void write() {
    socket_.async_write(asio::buffer(*waiting_.front()),
                        [self = shared_from_this()](const error_code& error, std::size_t) {
                          if (self->closed_) return;
                          if (error) return self->house_.leave(self);
                          ++self->house_.messages;
                          const auto fetched = self->waiting_.front()->size();
                          self->waiting_bytes_ -= fetched;
                          self->house_.waiting_bytes -= fetched;
                          self->waiting_.pop_front();
                          if (!self->waiting_.empty() && !self->parting_) self->write();
                        });
  }
  /// Says why, and goes.
  void part(websocket::close_code code, const char* why) {
    ++house_.refused;
    parting_ = true;
    socket_.set_option(
        websocket::stream_base::timeout{house_.patience.parting, house_.patience.parting, false});
    socket_.async_close({code, why},
                        [self = shared_from_this()](const error_code&) { self->house_.leave(self); });
  }

  House& house_;
  websocket::stream<beast::tcp_stream, false> socket_;  // false: nothing is compressed
  const Role role_;
  Allowance allowance_;
  http::request<http::string_body> request_;
  beast::flat_buffer inbox_;
  std::unique_ptr<LivePage> page_;
  std::deque<SharedText> waiting_;
  std::size_t waiting_bytes_ = 0;
  bool counted_ = false;
  bool parting_ = false;
  bool closed_ = false;
};

/// A visitor who asks, one request after the other.
class HttpConnection final : public Guest, public std::enable_shared_from_this<HttpConnection> {
 public:
  /// `network`: where it comes from.
  HttpConnection(House& house, tcp::socket socket, std::string network)
      : house_(house), socket_(std::move(socket)), network_(std::move(network)), deadline_(house.context) {}

  void serve() {
    house_.strangers.came(network_);
    stranger_ = true;
    error_code ignored;
    socket_.set_option(tcp::no_delay(true), ignored);
    arrived_at_ = text_of(socket_.local_endpoint(ignored).address());
    read();
  }
  /// One more than there may be: told so, and nothing is read from it.
  void turn_away() {
    turned_away_ = true;
    ++house_.turned_away;
    refuse({503, "too many connections; try again in a second"});
  }
  void shut() override {
    closed_ = true;
    if (turned_away_) --house_.turned_away;
    no_stranger();
    deadline_.cancel();
    error_code ignored;
    socket_.close(ignored);
  }

 private:
  enum class State : std::uint8_t { reading, asking, answering, parting };

  void no_stranger() {
    if (std::exchange(stranger_, false)) house_.strangers.left(network_);
  }
  /// Waits at most so long for what comes next.
  void enter(State state, std::chrono::milliseconds patience) {
    state_ = state;
    deadline_.expires_after(patience);
    deadline_.async_wait([self = shared_from_this(), round = ++round_](const error_code& cancelled) {
      if (!cancelled && !self->closed_ && round == self->round_) self->too_late();
    });
  }
  void too_late() {
    if (state_ == State::reading && (buffer_.size() > 0 || parser_->got_some())) {
      late_ = true;
      socket_.cancel();  // its handler tells the visitor
    } else if (state_ == State::asking) {
      ++asked_;  // an answer that comes after all is nobody's
      refuse({503, "the bench does not answer in time; try again in a second"});
    } else {
      house_.leave(shared_from_this());
    }
  }

  void read() {
    parser_.emplace();
    parser_->header_limit(static_cast<std::uint32_t>(kLongestHeader));
    parser_->body_limit(kLongestBody);
    enter(State::reading, house_.patience.request);
    http::async_read_header(socket_, buffer_, *parser_,
                            [self = shared_from_this()](const error_code& error, std::size_t) {
                              if (self->closed_) return;
                              if (error) return self->failed(error);
                              self->header_read();
                            });
  }
  /// What cannot be read as a request.
  void failed(const error_code& error) {
    ++house_.requests;
    const auto most = [](std::size_t bytes, const char* what) {
      return std::string(what) + " is longer than " + std::to_string(bytes) + " bytes";
    };
    if (late_) return refuse({408, "the request takes too long; expected a whole one within seconds"});
    if (error == http::error::header_limit || error == http::error::buffer_overflow)
      return refuse({431, most(kLongestHeader, "the header")});
    if (error == http::error::body_limit) return refuse({413, most(kLongestBody, "the body")});
    if (error != http::error::end_of_stream && error != http::error::partial_message &&
        error.category() == make_error_code(http::error::end_of_stream).category())
      return refuse({400, "this is no HTTP/1.1 request"});
    --house_.requests;  // gone without having asked
    house_.leave(shared_from_this());
  }
  void header_read() {
    ++house_.requests;
    const auto& request = parser_->get();
    auto target = parse_target({request.target().data(), request.target().size()});
    if (!target) return refuse(target.error());
    target_ = std::move(target).value();
    if (auto refusal = look_at(request)) return refuse(*refusal);
    if (parser_->is_done()) return answer();
    enter(State::reading, house_.patience.request);
    http::async_read(socket_, buffer_, *parser_,
                     [self = shared_from_this()](const error_code& error, std::size_t) {
                       if (self->closed_) return;
                       if (!error) return self->answer();
                       --self->house_.requests;  // counted when its header came
                       self->failed(error);
                     });
  }
  /// Where the request comes from, and who asks.
  std::optional<Refusal> look_at(const http::request<http::string_body>& request) {
    known_ = false;
    visit_ = {};
    visit_.method = std::string(request.method_string());
    visit_.path = target_.path;
    visit_.live = websocket::is_upgrade(request) && !request[http::field::sec_websocket_key].empty() &&
                  request[http::field::sec_websocket_version] == "13";
    const auto view = target_.query.find("view");
    visit_.as_class = view != target_.query.end() && view->second == "class";
    visit_.arrived_at = arrived_at_;
    for (const auto field : {http::field::host, http::field::origin, http::field::authorization,
                             http::field::content_type, http::field::sec_websocket_key})
      if (request.count(field) > 1) return Refusal{400, "a header stands twice that may stand once only"};
    const auto text = [&request](auto field) { return std::string(request[field]); };
    visit_.host = text(http::field::host);
    if (request.count(http::field::origin) != 0) visit_.origin = text(http::field::origin);
    if (request.count("Sec-Fetch-Site") != 0) visit_.fetch_site = text("Sec-Fetch-Site");
    visit_.content_type = text(http::field::content_type);
    visit_.cookie = text(http::field::cookie);
    visit_.authorization = text(http::field::authorization);
    if (auto refusal = house_.access->refused(visit_)) return refusal;
    if (house_.access->is_known(visit_)) become_known();
    const bool of_bench = visit_.path.starts_with("/api/") || visit_.path == "/metrics";
    if (!of_bench || visit_.path == "/api/session") return std::nullopt;
    const auto role = house_.access->role_of(visit_, Clock::now());
    if (!role) return role.error();
    role_ = *role;
    return std::nullopt;
  }

  void become_known() {
    known_ = true;
    no_stranger();
  }

  void answer() {
    const auto& path = target_.path;
    if (path == "/api/live") return become_live();
    if (path == "/api/session") return visit_.method == "POST" ? begin_session() : tell_session();
    if (const auto* asset = find_asset(path)) {
      if (visit_.method == "POST") return refuse({405, "expected GET: this is a file"});
      return give({200, asset->type}, {}, asset->content);
    }
    if (path == "/healthz") return give({200, "text/plain; charset=utf-8"}, "ok\n");
    if (!path.starts_with("/api/") && path != "/metrics")
      return refuse({404, "there is nothing at this path"});
    ask_site();
  }
  void ask_site() {
    auto& request = parser_->get();
    PanelRequest asked;
    asked.method = visit_.method == "HEAD" ? "GET" : visit_.method;
    asked.path = target_.path;
    asked.query = std::move(target_.query);
    asked.body = std::move(request.body());
    asked.role = role_;
    enter(State::asking, house_.patience.site);
    house_.site.handle(std::move(asked), PanelReply([mailbox = house_.mailbox, waiting = weak_from_this(),
                                                     round = ++asked_](PanelAnswer answer) {
                         mailbox->post([waiting, round, answer = std::move(answer)]() mutable {
                           const auto self = waiting.lock();
                           if (self && !self->closed_ && round == self->asked_)
                             self->give_answer(std::move(answer));
                         });
                       }));
  }
  void give_answer(PanelAnswer answer) {
    ++asked_;
    type_ = std::move(answer.type);
    AnswerHead head{answer.status, type_};
    head.file_name = std::move(answer.file_name);
    give(std::move(head), std::move(answer.body));
  }
  void tell_session() {
    const bool needed = house_.access->token_needed();
    const auto role = house_.access->role_of(visit_, Clock::now());
    const std::string word = !role ? "null" : *role == Role::trainer ? "\"trainer\"" : "\"watcher\"";
    give({}, R"({"role":)" + word + R"(,"token_needed":)" + (needed ? "true}" : "false}"));
  }
  void begin_session() {
    auto cookie = house_.access->begin_session(parser_->get().body(), Clock::now());
    if (!cookie) return refuse(cookie.error());
    become_known();
    AnswerHead head{204};
    head.set_cookie = std::move(cookie).value();
    give(std::move(head), {});
  }
  void become_live() {
    if (!visit_.live || buffer_.size() != 0)
      return refuse({426, "expected the handshake of a WebSocket at /api/live"});
    auto page = std::make_shared<LiveConnection>(house_, std::move(socket_), role_);
    house_.enter(page);
    house_.leave(shared_from_this());
    page->accept(parser_->release());
  }

  /// Answers, and goes: after a refusal nothing that follows on the connection can be trusted to be a
  /// request.
  void refuse(const Refusal& refusal) {
    ++house_.refused;
    AnswerHead head{refusal.status};
    head.keep_alive = false;
    give(std::move(head), error_json(refusal.error) + "\n");
  }
  /// `lasting`: a body that stays where it is, in place of `body`.
  void give(AnswerHead head, std::string body, std::string_view lasting = {}) {
    body_ = std::move(body);
    const std::string_view shown = lasting.empty() ? std::string_view(body_) : lasting;
    head.length = shown.size();
    // Nobody stays who has not shown that he may: a connection that was kept for him is one for nobody else.
    head.keep_alive = head.keep_alive && known_ && parser_ && parser_->get().keep_alive();
    head_ = to_text(head);
    enter(State::answering, house_.patience.answer);
    const bool without_body = parser_ && parser_->get().method() == http::verb::head;
    const std::array<asio::const_buffer, 2> parts{
        asio::buffer(head_), asio::buffer(shown.data(), without_body ? 0 : shown.size())};
    asio::async_write(
        socket_, parts,
        [self = shared_from_this(), again = head.keep_alive](const error_code& error, std::size_t) {
          if (self->closed_) return;
          if (error) return self->house_.leave(self);
          self->body_ = {};
          again ? self->read() : self->part();
        });
  }
  /// Lets the visitor read the answer: closed with bytes of his unread, the connection would be reset under
  /// it.
  void part() {
    error_code ignored;
    socket_.shutdown(tcp::socket::shutdown_send, ignored);
    enter(State::parting, house_.patience.parting);
    pass_over();
  }
  void pass_over() {
    socket_.async_read_some(asio::buffer(scrap_),
                            [self = shared_from_this()](const error_code& error, std::size_t count) {
                              if (self->closed_) return;
                              self->passed_over_ += count;
                              if (error || self->passed_over_ > kMostPassedOver)
                                return self->house_.leave(self);
                              self->pass_over();
                            });
  }

  House& house_;
  tcp::socket socket_;
  const std::string network_;
  asio::steady_timer deadline_;
  std::uint64_t round_ = 0;  // of the deadline
  std::uint64_t asked_ = 0;  // of what the site was asked
  State state_ = State::reading;
  bool late_ = false;
  bool turned_away_ = false;
  bool stranger_ = false;  // counted as one
  bool known_ = false;     // by what the present request shows
  bool closed_ = false;
  std::string arrived_at_;
  beast::flat_buffer buffer_{kLongestHeader + kLongestBody};
  std::optional<http::request_parser<http::string_body>> parser_;
  Target target_;
  Visit visit_;
  Role role_ = Role::watcher;
  std::string type_, head_, body_;
  std::size_t passed_over_ = 0;
  std::array<char, 4096> scrap_{};
};

}  // namespace

class PanelServer::Impl {
 public:
  Impl(PanelSite& site, PanelAddress address, PanelPatience patience)
      : house_(site, std::move(address), patience),
        acceptor_(house_.context),
        retry_(house_.context),
        tick_(house_.context) {}

  Result<std::string, std::string> open() {
    const auto& address = house_.address;
    if (!is_loopback(address.host) && address.trainer_token.empty())
      return Failure{"panel: " + address.host +
                     " can be reached from other machines; expected a token beside it"};
    const auto endpoint = find_endpoint(house_.context, address.host, address.port);
    if (!endpoint) return Failure{"panel: " + endpoint.error()};
    auto acceptor = listen_at(house_.context, *endpoint);
    if (!acceptor && address.any_port_if_taken) {
      auto elsewhere = listen_at(house_.context, tcp::endpoint(endpoint->address(), 0));
      if (elsewhere) acceptor = std::move(elsewhere);
    }
    if (!acceptor) return Failure{"panel: " + acceptor.error()};
    acceptor_ = std::move(acceptor).value();
    const auto port = acceptor_.local_endpoint().port();
    house_.access.emplace(address, port);
    welcome();
    tick();
    thread_ = std::thread([this] { run(); });
    return url(endpoint->address(), port);
  }
  void close() {
    if (!thread_.joinable()) return;
    asio::post(house_.context, [this] {
      error_code ignored;
      acceptor_.close(ignored);
      const auto guests = house_.guests;
      for (const auto& guest : guests) house_.leave(guest);
      house_.context.stop();
    });
    thread_.join();
    house_.mailbox->close();
  }
  [[nodiscard]] Statistics statistics() const {
    return {house_.requests, house_.refused,   house_.connections,  house_.live_pages,
            house_.messages, house_.held_back, house_.waiting_bytes};
  }

 private:
  [[nodiscard]] std::string url(const asio::ip::address& address, std::uint16_t port) const {
    std::string host = house_.address.host;
    if (address.is_unspecified()) host = address.is_v6() ? "::1" : "127.0.0.1";
    if (address.is_unspecified() && !house_.address.names.empty()) host = house_.address.names.front();
    if (host.find(':') != std::string::npos && !host.starts_with('[')) host = "[" + host + "]";
    return "http://" + host + ":" + std::to_string(port) + "/";
  }
  void run() {
    ::setpriority(PRIO_PROCESS, static_cast<id_t>(::gettid()), kNiceness);
    for (;;) {
      try {
        house_.context.run();
        return;
      } catch (const std::exception& failure) {  // one visitor's misfortune, such as no memory for an answer
        spdlog::error("the panel could not serve a visitor: {}", failure.what());
      }
    }
  }
  void welcome() {
    acceptor_.async_accept([this](const error_code& error, tcp::socket socket) {
      if (!acceptor_.is_open()) return;
      if (error) {
        retry_.expires_after(kShortOfDescriptors);
        retry_.async_wait([this](const error_code& cancelled) {
          if (!cancelled && acceptor_.is_open()) welcome();
        });
        return;
      }
      welcome();
      receive(std::move(socket));
    });
  }
  void receive(tcp::socket socket) {
    error_code gone;
    const auto network = network_of(text_of(socket.remote_endpoint(gone).address()));
    if (gone) return;
    const bool stays = house_.strangers.room_for(network, house_.guests.size() - house_.turned_away);
    if (!stays && house_.turned_away >= kMostTurnedAway) return;  // closed: it gets no answer
    auto guest = std::make_shared<HttpConnection>(house_, std::move(socket), network);
    house_.enter(guest);
    stays ? guest->serve() : guest->turn_away();
  }
  void tick() {
    tick_.expires_after(kTick);
    tick_.async_wait([this](const error_code& cancelled) {
      if (cancelled) return;
      tick();
      house_.site.tick();
    });
  }

  House house_;
  tcp::acceptor acceptor_;
  asio::steady_timer retry_;
  asio::steady_timer tick_;
  std::thread thread_;
};

PanelServer::PanelServer(PanelSite& site, PanelAddress address, PanelPatience patience)
    : impl_(std::make_unique<Impl>(site, std::move(address), patience)) {}

PanelServer::~PanelServer() { close(); }

Result<std::string, std::string> PanelServer::open() { return impl_->open(); }

void PanelServer::close() { impl_->close(); }

PanelServer::Statistics PanelServer::statistics() const { return impl_->statistics(); }

}  // namespace emberline::io
