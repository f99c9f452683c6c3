#include "plant-models/electrical/burst.hpp"

#include <algorithm>
#include <cassert>
#include <cmath>

namespace emberline::plant {
namespace {
/// Ten times 0.1 is a little less than 1 in binary: a cycle owed but for this much is given.
constexpr double kRounding = 1e-9;
}  // namespace

bool SpreadBurst::next_cycle(double duty) {
  // The ends do not touch the remainder, so that no rounding of it can ever drop or add a cycle there.
  if (!(duty > 0.0)) return false;
  if (duty >= 1.0) return true;
  owed_ += duty;
  if (owed_ < 1.0 - kRounding) return false;
  owed_ -= 1.0;
  return true;
}

void SpreadBurst::reset() { owed_ = 0.0; }

BurstRing::BurstRing(int base_cycles, std::size_t members) : base_cycles_(base_cycles), members_(members) {
  assert(base_cycles >= 1 && members >= 1);
}

void BurstRing::begin_base(std::span<const double> duties) {
  int begins = 0;
  for (std::size_t m = 0; m < members_.size(); ++m) {
    Member& member = members_[m];
    const double duty = std::clamp(duties[m], 0.0, 1.0);
    member.cycles = duty < 1.0 ? 0 : base_cycles_;
    if (duty > 0.0 && duty < 1.0) {
      const double due = member.owed + duty * base_cycles_;
      member.cycles = std::min(base_cycles_, static_cast<int>(std::floor(due + kRounding)));
      member.owed = due - member.cycles;
    }
    member.begins = begins;
    begins = (begins + member.cycles) % base_cycles_;
  }
}

void BurstRing::next_cycle(std::span<const double> duties) {
  assert(duties.size() == members_.size());
  const bool idle = std::none_of(duties.begin(), duties.end(), [](double duty) { return duty > 0.0; });
  if (idle) at_ = 0;
  if (!idle && at_ == 0) begin_base(duties);
  for (std::size_t m = 0; m < members_.size(); ++m) {
    Member& member = members_[m];
    const int since = (at_ - member.begins + base_cycles_) % base_cycles_;
    member.on = duties[m] > 0.0 && since < member.cycles;
    if (!(duties[m] > 0.0)) {
      member.owed = 0.0;
      member.cycles = 0;
    }
  }
  if (!idle) at_ = (at_ + 1) % base_cycles_;
}

bool BurstRing::steady(std::span<const double> duties) const {
  for (std::size_t m = 0; m < members_.size(); ++m) {
    const bool whole = duties[m] >= 1.0 && members_[m].cycles == base_cycles_;
    if (duties[m] > 0.0 && !whole) return false;
  }
  return true;
}

}  // namespace emberline::plant
