#pragma once

#include <cstdint>
#include <memory>
#include <vector>

#include "sim/bench/bench.hpp"
#include "sim/bench/event_loop.hpp"
#include "sim/rehearsal/scenario_spec.hpp"

namespace emberline::io {

/// All stand-ins of a stepped rehearsal. Each runs rehearsal::play in a thread of its own and talks through
/// libmodbus on a private socket pair per line; one baton: either the scheduler runs or one stand-in does, so
/// that runs repeat to the byte. An RTU frame takes 11 bits a character plus t3.5 before the answer, a TCP
/// frame 0.2 ms each way. A lost answer ends, at the stand-in's simulated time-out, by shutting our end of
/// the pair, and a fresh pair takes its place.
class SteppedMasters {
 public:
  SteppedMasters(bench::Bench& bench, const std::vector<rehearsal::MasterSpec>& masters);
  /// Ends all stand-ins and joins their threads.
  ~SteppedMasters();

  /// Frames on the simulated lines: Rank::frames.
  [[nodiscard]] bench::EventSource& wire();
  /// Stand-ins that wake from a sleep, and their time-outs: Rank::stand_ins.
  [[nodiscard]] bench::EventSource& stand_ins();
  /// Ends every stand-in's program; afterwards nothing is due any more.
  void finish();
  /// Requests sent, tries included.
  [[nodiscard]] std::uint64_t transactions() const;
  /// Late answers to earlier requests that libmodbus took for the answer to a later one.
  [[nodiscard]] std::uint64_t mistaken_answers() const;

 private:
  class Impl;
  std::unique_ptr<Impl> impl_;
};

}  // namespace emberline::io
