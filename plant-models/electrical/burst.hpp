#pragma once

#include <cstddef>
#include <span>
#include <vector>

namespace emberline::plant {

/// Zero-crossing firing by evenly spread whole cycles: a first-order error accumulator decides for every
/// mains cycle whether it is passed on, so that after any number of cycles the energy given is within one
/// cycle of the energy asked.
class SpreadBurst {
 public:
  /// Whether the cycle that begins now conducts, at this duty (0 to 1; 0 never, 1 always).
  bool next_cycle(double duty);
  /// Forgets the remainder, as when the unit goes off.
  void reset();

 private:
  double owed_ = 0.0;
};

/// Zero-crossing firing with a fixed time base: at the beginning of every base each member of the ring is
/// given its share of the base's cycles, one burst a base. What is left of a cycle is owed to it in the next
/// base. The members' bursts follow each other, the last going on at the base's beginning when they are more
/// than fit, so that as few as possible conduct at once. One unit by itself is a ring of one.
class BurstRing {
 public:
  /// `base_cycles` and `members` are 1 or more.
  BurstRing(int base_cycles, std::size_t members);
  /// The next mains cycle, with these duties (0 to 1), one a member. A ring in which nobody asks for anything
  /// waits, and its base begins with the first who does. Who no longer asks is off at once; a changed duty
  /// counts from the next base on.
  void next_cycle(std::span<const double> duties);
  [[nodiscard]] bool on(std::size_t member) const { return members_[member].on; }
  /// True when with these duties no cycle will differ from the last: everybody is off, or on for whole bases.
  [[nodiscard]] bool steady(std::span<const double> duties) const;

 private:
  struct Member {
    double owed = 0.0;
    int begins = 0;
    int cycles = 0;
    bool on = false;
  };
  void begin_base(std::span<const double> duties);

  int base_cycles_;
  int at_ = 0;  ///< the cycle within the base that comes next
  std::vector<Member> members_;
};

}  // namespace emberline::plant
