#pragma once

#include <cstdint>

namespace emberline {

/// The one source of chance, seeded by the run (SplitMix64, Steele, Lea and Flood 2014).
/// Its own arithmetic, so that a seed means the same on every standard library.
class Random {
 public:
  explicit Random(std::uint64_t seed) : state_(seed) {}

  /// 64 uniformly distributed bits.
  std::uint64_t bits() {
    state_ += 0x9E3779B97F4A7C15u;
    std::uint64_t z = state_;
    z = (z ^ (z >> 30u)) * 0xBF58476D1CE4E5B9u;
    z = (z ^ (z >> 27u)) * 0x94D049BB133111EBu;
    return z ^ (z >> 31u);
  }
  /// A whole number from 0 to `bound` - 1; `bound` above 0. The bias is below 2^-32 for bounds up to 2^32.
  std::uint64_t below(std::uint64_t bound) { return bits() % bound; }
  /// A number from 0 up to, not including, 1.
  double unit() { return static_cast<double>(bits() >> 11u) * 0x1.0p-53; }

 private:
  std::uint64_t state_;
};

}  // namespace emberline
