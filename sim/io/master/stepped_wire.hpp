#pragma once

#include <cstddef>
#include <cstdint>
#include <deque>
#include <optional>
#include <string>

#include "sim/base/serial_format.hpp"
#include "sim/base/sim_time.hpp"
#include "sim/bench/line_session.hpp"
#include "sim/modbus/bytes.hpp"

namespace emberline::io {

/// A stand-in's end of a line, as the simulated wire sees it.
struct WireEnd {
  WireEnd(bench::Bench& bench, std::size_t line, const std::string& master, std::size_t place,
          Duration answer_within)
      : session(bench, line, master, {.strict = true}), order(place), timeout(answer_within) {}
  bench::LineSession session;
  std::size_t order;                ///< place of the stand-in in the file: who is served first at one instant
  Duration timeout;                 ///< from the start of sending
  std::optional<SimTime> deadline;  ///< of the request that is on the wire
};

/// Carries requests and answers over one simulated line, in simulated time: an RTU line that all stand-ins
/// share, or one TCP connection. RTU: 11 bits a character, and 3.5 characters of silence between frames
/// (MODBUS over Serial Line V1.02, 2.5.1); whoever finds the wire taken waits until it is free. TCP: 0.2 ms
/// each way.
class SteppedWire {
 public:
  SteppedWire(bench::Bench& bench, std::size_t line);

  /// Sends a whole request now, or as soon as the wire is free; its time-out counts from there.
  void send(WireEnd& from, modbus::Bytes request, SimTime now);
  /// When something happens on the wire next, if nobody does anything.
  [[nodiscard]] std::optional<SimTime> next() const;
  /// Whose frame it is that next() is about.
  [[nodiscard]] std::size_t order() const { return current_->end->order; }
  /// An answer that has arrived whole.
  struct Delivery {
    WireEnd* to;
    modbus::Bytes frame;
  };
  /// Takes the step that is due at next().
  [[nodiscard]] std::optional<Delivery> step(SimTime now);
  /// The time-out of `end` has passed. On TCP that closes the connection; on RTU what is on the wire stays
  /// there until it is through.
  void give_up(WireEnd& end, SimTime now);
  /// Forgets everything, for the end of the run.
  void clear();
  /// Answers that came after their time-out.
  [[nodiscard]] std::uint64_t late_answers() const { return late_answers_; }

 private:
  enum class Stage : std::uint8_t { request, silence, answer, unanswered };
  struct Transaction {
    WireEnd* end;
    Stage stage;
    SimTime due;
    modbus::Bytes frame;     ///< the request, then its answer
    bool abandoned = false;  ///< nobody waits for it any more
  };
  struct Waiting {
    WireEnd* end;
    modbus::Bytes request;
  };

  void begin(WireEnd& from, modbus::Bytes request, SimTime now);
  void arrive(SimTime now);
  void take_up(SimTime now);
  void leave_unanswered(SimTime now);
  void release(SimTime now, Duration pause);
  [[nodiscard]] Duration travel(std::size_t characters) const;

  bench::Bench& bench_;
  std::size_t line_;
  bool rtu_;
  SerialFormat serial_;
  std::optional<Transaction> current_;
  std::deque<Waiting> queue_;
  SimTime free_from_{};
  std::uint64_t late_answers_ = 0;
};

}  // namespace emberline::io
