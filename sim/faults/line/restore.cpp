#include "sim/faults/line/restore.hpp"

#include <algorithm>
#include <iterator>

namespace emberline::faults {
namespace {

/// What `only` can name: everything that stands on a line until it is lifted.
constexpr std::string_view kLasting[] = {"cut",         "drop_requests", "drop_answers", "delay",
                                         "truncate",    "repeat_answer", "late_answer",  "wrong_id",
                                         "bit_errors",  "noise",         "echo",         "collision",
                                         "tcp_refused", "tcp_silent",    "half_open"};
constexpr double kAll = -1.0;
constexpr ActionKey kKeys[] = {
    {.key = "only",
     .kind = ActionKey::Kind::word,
     .fallback = kAll,
     .meaning = "the one impairment to lift; without it all of them, a cut included",
     .words = kLasting}};

void perform(bench::Bench& bench, const Action& action, SimTime at) {
  const double only = action.value("only");
  if (only == kAll) {
    bench.lines().restore(action.target.index, at);
    return;
  }
  const auto word = kLasting[static_cast<std::size_t>(only)];
  if (word == "cut") {
    bench.lines().mend(action.target.index, at);
  } else {
    bench.lines().lift(action.target.index, word, at);
  }
}

}  // namespace

const ActionKind kRestore{
    "restore",  TargetKind::line, "makes a line good again: plugs the cable in, lifts all impairments",
    Duration{}, perform,          kKeys};

double restore_only(std::string_view word) {
  const auto found = std::find(std::begin(kLasting), std::end(kLasting), word);
  return found == std::end(kLasting) ? kAll : static_cast<double>(found - std::begin(kLasting));
}

}  // namespace emberline::faults
