#include "sim/faults/mend.hpp"

#include <algorithm>
#include <iterator>

#include "sim/faults/line/restore.hpp"

namespace emberline::faults {
namespace {

/// What `only` can name: everything that stays broken until it is mended.
constexpr std::string_view kLasting[] = {"phase_lost",   "dip",       "frequency",      "element_open",
                                         "leg_open",     "ageing",    "thyristor_open", "thyristor_shorted",
                                         "misfiring",    "fuse_open", "fan_failed",     "sensor_broken",
                                         "sensor_offset"};
constexpr double kAll = -1.0;

/// Impairments of a line are lifted by another word.
std::string hint(std::string_view text) {
  const auto& of_lines = kRestore.keys.front().words;
  if (std::find(of_lines.begin(), of_lines.end(), text) == of_lines.end()) return {};
  const std::string word(text);
  return "'" + word + "' is a fault of a line: use 'restore LINE only " + word + "'";
}

constexpr ActionKey kKeys[] = {{.key = "only",
                                .kind = ActionKey::Kind::word,
                                .fallback = kAll,
                                .meaning = "the one fault to mend; without it all that the target has",
                                .words = kLasting,
                                .hint = hint}};

/// Whether what is mended can have this fault at all.
bool can_have(const Target& target, const ActionKind& fault) {
  if (fault.mend == nullptr) return false;
  switch (target.kind) {
    case TargetKind::supply:
      // A single phase has no frequency of its own.
      return fault.target == TargetKind::supply && (!target.part || fault.word != "frequency");
    case TargetKind::leg:
      return fault.target == TargetKind::leg || fault.target == TargetKind::thyristor ||
             (fault.target == TargetKind::unit && !target.part);
    case TargetKind::thyristor:
      return fault.target == TargetKind::thyristor;
    case TargetKind::zone:
      return fault.target == TargetKind::zone;
    default:
      return false;
  }
}

bool named_by(double only, const ActionKind& fault) {
  return only == kAll || kLasting[static_cast<std::size_t>(only)] == fault.word;
}

void perform(bench::Bench& bench, const Action& action, SimTime at) {
  const double only = action.value("only");
  bool any = false;
  for (const auto* fault : all_actions())
    if (can_have(action.target, *fault) && named_by(only, *fault))
      any = fault->mend(bench, action.target, at) || any;
  if (!any) bench.journal().note(at, action.target_name, "nothing to mend here");
}

std::string refusal(const bench::BenchSpec&, const Action& action) {
  const double only = action.value("only");
  for (const auto* fault : all_actions())
    if (can_have(action.target, *fault) && named_by(only, *fault)) return {};
  return "'" + std::string(kLasting[static_cast<std::size_t>(only)]) + "' is not a fault of '" +
         action.target_name + "'";
}

}  // namespace

const ActionKind kMend{"mend",
                       TargetKind::mendable,
                       "makes good again what broke: supply, load, power stage or sensor",
                       Duration{},
                       perform,
                       kKeys,
                       nullptr,
                       nullptr,
                       refusal};

Action mended(const Action& action) {
  Action mend = opposite(kMend, action);
  const auto* word = std::find(std::begin(kLasting), std::end(kLasting), action.kind->word);
  mend.values.at(0) = static_cast<double>(word - std::begin(kLasting));
  mend.extra = {"only " + std::string(action.kind->word)};
  return mend;
}

}  // namespace emberline::faults
