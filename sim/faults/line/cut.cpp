#include "sim/faults/line/cut.hpp"

#include "sim/faults/line/restore.hpp"

namespace emberline::faults {
namespace {

constexpr std::string_view kWays[] = {"both", "to-units", "to-masters"};  // as bench::Way counts them
constexpr ActionKey kKeys[] = {{.key = "way",
                                .kind = ActionKey::Kind::word,
                                .fallback = 0.0,
                                .meaning = "which way nothing gets through any more",
                                .words = kWays}};

void perform(bench::Bench& bench, const Action& action, SimTime at) {
  bench.lines().cut(action.target.index, static_cast<bench::Way>(static_cast<int>(action.value("way"))), at);
}

/// The cable is put back; what else is wrong with the line stays.
Action undo(const Action& action) { return lifted(action); }

}  // namespace

const ActionKind kCut{
    "cut",      TargetKind::line, "pulls the cable of a line: nothing gets through until it is restored",
    Duration{}, perform,          kKeys,
    undo};

}  // namespace emberline::faults
