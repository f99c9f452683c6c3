#pragma once

#include <cstddef>
#include <cstdint>
#include <deque>
#include <memory>
#include <optional>
#include <string>
#include <vector>

#include "sim/base/serial_format.hpp"
#include "sim/base/sim_time.hpp"
#include "sim/bench/line_session.hpp"
#include "sim/modbus/bytes.hpp"

namespace emberline::io {

/// A stand-in's end of a line, as the simulated wire sees it.
class StandInEnd {
 public:
  /// `serial` is the stand-in's own idea of a serial line; nothing: the line's.
  StandInEnd(bench::Bench& bench, std::size_t line, std::string master, std::size_t place,
             Duration answer_within, std::optional<SerialFormat> serial = std::nullopt);

  std::size_t order;  ///< place of the stand-in in the file: who is served first at one instant
  Duration timeout;   ///< from the start of sending
  /// How it sends when that is another format than the line's: nobody understands a character.
  std::optional<SerialFormat> foreign;
  std::optional<SimTime> deadline;  ///< of the request that is on the wire
  SimTime
      asked_at{};  ///< when the last byte of the latest request is with the units; far off until it begins

  // --- the wire's own
  std::unique_ptr<bench::LineSession> session;
  bool connected = false;    ///< TCP
  SimTime connected_at{};    ///< TCP
  std::uint64_t resets = 0;  ///< TCP: of the line, as of then
  /// A new session in place of the old one.
  void renew(SimTime now);

 private:
  void open();
  bench::Bench& bench_;
  std::size_t line_;
  std::string master_;
};

/// Carries requests and answers over one simulated line, in simulated time: an RTU line that all stand-ins
/// share, or one TCP connection. RTU: 11 bits a character, and 3.5 characters of silence between frames
/// (MODBUS over Serial Line V1.02, 2.5.1); whoever finds the wire taken waits until it is free. TCP: 0.2 ms
/// each way. What impairments put off or double travels by itself, whether anybody waits for it or not: it
/// takes no room on the wire.
class SteppedWire {
 public:
  SteppedWire(bench::Bench& bench, std::size_t line);
  /// A stand-in that will send over this wire.
  void attach(StandInEnd& end) { ends_.push_back(&end); }

  /// Sends a whole request now, or as soon as the wire is free; its time-out counts from there.
  void send(StandInEnd& from, modbus::Bytes request, SimTime now);
  /// When something happens on the wire next, if nobody does anything.
  [[nodiscard]] std::optional<SimTime> next() const;
  /// Whose frame it is that next() is about.
  [[nodiscard]] std::size_t order() const;
  /// Bytes that have arrived at a stand-in's end.
  struct Delivery {
    StandInEnd* to;
    modbus::Bytes bytes;
    SimTime asked_at;  ///< when the last byte of the request they answer was with the units
  };
  /// Takes the step that is due at next().
  [[nodiscard]] std::optional<Delivery> step(SimTime now);
  /// `end` waits no longer, for it has what it takes for its answer. What is on the wire stays there until it
  /// is through.
  void done(StandInEnd& end, SimTime now);
  /// The time-out of `end` has passed. On TCP that closes the connection.
  void give_up(StandInEnd& end, SimTime now);
  /// `end` closes its connection and opens a new one with its next request. On RTU nothing.
  void reconnect(StandInEnd& end, SimTime now);
  /// `end` has no power any more: its connection is gone, and so is what it had not sent; half a frame stays
  /// half a frame.
  void lost_power(StandInEnd& end, SimTime now);
  /// Forgets everything, for the end of the run.
  void clear(SimTime now);

 private:
  /// Bytes on their way to a stand-in.
  struct Travelling {
    StandInEnd* end;
    SimTime due;
    bench::LineSession::Outgoing piece;
  };
  struct Sending {
    StandInEnd* end;
    SimTime begun;
    SimTime due;
    modbus::Bytes request;
  };
  struct Waiting {
    StandInEnd* end;
    modbus::Bytes request;
    bool unheeded = false;  ///< nobody waits for the answer any more
  };
  /// What is due first, and whose.
  struct Step {
    enum class Kind : std::uint8_t { reset, arrival, wake, delivery };
    SimTime at;
    StandInEnd* end;
    Kind kind;
  };

  [[nodiscard]] std::optional<Step> next_step() const;
  void begin(Waiting request, SimTime now);
  [[nodiscard]] bool connect(StandInEnd& end, SimTime now) const;
  void arrive(SimTime now);
  void collect(StandInEnd& end, SimTime now);
  void drop_connection(StandInEnd& end, SimTime now);
  void release_if_free(SimTime now);
  [[nodiscard]] bool in_use(SimTime now) const;
  [[nodiscard]] Duration travel(std::size_t characters) const;
  [[nodiscard]] Duration travel(std::size_t characters, const StandInEnd& from) const;

  bench::Bench& bench_;
  std::size_t line_;
  bool rtu_;  ///< carries RTU frames
  bool tcp_;  ///< reached by connections; a serial device server is both
  bool paced_;
  SerialFormat serial_;
  std::vector<StandInEnd*> ends_;
  std::optional<Sending> sending_;
  std::vector<Travelling> travelling_;  ///< by due
  StandInEnd* holder_ = nullptr;        ///< who has the wire
  bool finished_ = false;               ///< the holder waits no longer
  std::deque<Waiting> queue_;
  SimTime free_from_{};
};

}  // namespace emberline::io
