#pragma once

#include <array>
#include <memory>
#include <optional>
#include <string>
#include <vector>

#include <boost/asio/ip/tcp.hpp>

#include "sim/bench/line_session.hpp"
#include "sim/io/line/alarm.hpp"
#include "sim/io/line/descriptor.hpp"
#include "sim/io/line/first_request.hpp"
#include "sim/io/line/pump.hpp"
#include "sim/io/line/readiness.hpp"
#include "sim/io/line/waiting.hpp"

namespace emberline::io {

/// True if the far end of a socket has closed its side, whether or not everything it sent has been read.
[[nodiscard]] bool peer_has_closed(int socket);

/// One master's connection to a TCP line, whichever frames it carries. Kept alive until it
/// is closed; never throws.
class TcpConnection final : public Readiness::Watched, public std::enable_shared_from_this<TcpConnection> {
 public:
  /// What gets through. What comes in stays where the far end's system has it while the way in is closed.
  struct Passage {
    bool in = true;     ///< bytes are read
    bool out = true;    ///< answers are written; otherwise they wait
    bool lose = false;  ///< answers that come due are lost
    bool operator==(const Passage&) const = default;
  };
  /// What the journal has said already of the connections of a line.
  struct Noted {
    bool deaf = false;
    bool idle = false;
    bool unwatched = false;
  };
  /// Null if the far end is gone already. `noted` outlives it.
  [[nodiscard]] static std::shared_ptr<TcpConnection> make(Pump& pump, bench::Bench& bench, std::size_t line,
                                                           boost::asio::ip::tcp::socket socket, Noted& noted);
  void start(const Passage& passage);
  /// When the way in opens again and the far end has gone meanwhile, it is closed unread.
  void follow(const Passage& passage);
  /// Time, which stood still until the first request came, has begun to run.
  void time_runs() { arm(); }
  void ready(bool to_read, bool to_write) override;
  /// Sends what is due.
  void round_over() override;
  void close(bench::SessionEnd how);
  /// Closes with a reset (RST): the far end learns at once that the connection is no more.
  void reset();
  [[nodiscard]] bool closed() const { return closed_; }
  [[nodiscard]] SimTime opened_at() const { return opened_at_; }
  [[nodiscard]] const bench::LineSession& session() const { return session_; }

 private:
  TcpConnection(Pump& pump, bench::Bench& bench, std::size_t line, Descriptor socket, std::string master,
                Noted& noted);
  [[nodiscard]] bool full() const;
  [[nodiscard]] bool may_read() const;
  [[nodiscard]] bool may_write() const;
  void watch();
  void receive();
  void receive_first(modbus::ByteView bytes, bool cut);
  void finish_frame(SimTime at);
  void take_up(modbus::ByteView bytes, bool cut = false);
  void send_due(SimTime at);
  void send(modbus::ByteView bytes);
  void send_rest();
  std::size_t write_some(modbus::ByteView bytes);
  void close_if_done();
  [[nodiscard]] std::optional<SimTime> too_quiet_at() const;
  void note_once(bool& noted, std::string sentence);
  void arm();

  Pump& pump_;
  bench::Bench& bench_;
  const bench::LineSpec& spec_;
  Noted& noted_;
  std::string master_;
  Descriptor socket_;
  std::optional<Readiness::Place> place_;  // from start() to close()
  bench::LineSession session_;
  std::optional<FirstRequest> first_;  // of one that was made while time stood still
  Alarm alarm_;
  Waiting waiting_;                                    // answers that are not due yet, or must not out
  std::vector<bench::LineSession::Outgoing> ready_;    // on their way there
  std::vector<bench::LineSession::Outgoing> leaving_;  // on their way out of there: empty but for its memory
  modbus::Bytes unsent_;                               // of answers: what the far end has not taken yet
  std::array<std::uint8_t, 260> inbox_{};              // the longest frame: more waits for its turn
  Passage passage_;
  SimTime taken_up_at_{};  // when last something was taken up
  SimTime opened_at_;
  SimTime heard_at_;       // the last whole request, or since when it can have come
  bool in_round_ = false;  // what is due waits until it is over
  bool ending_ = false;    // nothing more is read; the rest of the answers goes out
  bool closed_ = false;
};

}  // namespace emberline::io
