#include "sim/faults/unit/misfiring.hpp"

#include "sim/faults/action_impairment.hpp"
#include "sim/faults/action_plant.hpp"

namespace emberline::faults {
namespace {

constexpr ActionKey kKeys[] = {share_key("of its half-waves in which it misses its pulse")};

/// Sets every thyristor that is meant; true if any was set otherwise.
bool set(bench::Bench& bench, const Target& target, double share, SimTime at) {
  bool any = false;
  for (const std::size_t leg : legs_of(bench.spec(), target)) {
    for (const bool forward : {true, false}) {
      if (!means(target, forward) || bench.misfiring(target.index, leg, forward) == share) continue;
      const std::string which = side_in_words(forward ? Side::forward : Side::backward);
      bench.set_misfiring(target.index, leg, forward, share, at, leg_name(bench.spec(), target, leg),
                          share > 0.0 ? which + " misses its pulse in " + portion(share, "half-waves")
                                      : which + " fires every time again");
      any = true;
    }
  }
  return any;
}

void perform(bench::Bench& bench, const Action& action, SimTime at) {
  set(bench, action.target, action.value("share"), at);
}

std::string refusal(const bench::BenchSpec&, const Action& action) {
  if (action.value("share") > 0.0) return {};
  return "with a share of 0 % no pulse is missed: to take it back use 'mend " + action.target_name +
         " only misfiring'";
}

bool mend(bench::Bench& bench, const Target& target, SimTime at) { return set(bench, target, 0.0, at); }

}  // namespace

const ActionKind kMisfiring{"misfiring",
                            TargetKind::thyristor,
                            "lets a thyristor miss its pulse now and then, by chance",
                            Duration{},
                            perform,
                            kKeys,
                            mended,
                            mend,
                            refusal};

}  // namespace emberline::faults
