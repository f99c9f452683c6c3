#include <string>
#include <string_view>

#include "sim/io/files/scenario_master_parts.hpp"
#include "sim/io/files/values.hpp"

namespace emberline::io {
namespace {

using rehearsal::ProgramStep;

constexpr std::string_view kSegmentExample = "{ to: 560 degC, rate: 200 K/h } or { hold: 30 min }";

void read_segment(const Node& node, ProgramStep& step, MasterDraft& draft) {
  auto& problems = draft.problems();
  rehearsal::ProfileSegment segment;
  Fields fields(node, kSegmentExample, problems);
  const auto* to = fields.optional("to");
  const auto* hold = fields.optional("hold");
  if (fields.is_mapping() && (to != nullptr) == (hold != nullptr)) {
    const bool neither = node.find("to") == nullptr && node.find("hold") == nullptr;
    if (to != nullptr || neither)
      complain(problems, node.place,
               "a part of a profile is a ramp or a soak, expected " + std::string(kSegmentExample));
  }
  if (hold != nullptr) {
    fields.refuse("rate", "goes with 'to' only");
    read_duration(hold, Bound::positive, segment.hold, problems);
  } else {
    double to_degC = 0.0;
    if (read_quantity(to, Dimension::temperature, Bound::any, to_degC, problems)) segment.to_degC = to_degC;
    const auto* rate = to != nullptr ? fields.required("rate", "expected how fast, such as '200 K/h'")
                                     : fields.optional("rate");
    read_quantity(rate, Dimension::heating_rate, Bound::positive, segment.rate_K_per_s, problems);
  }
  fields.done();
  step.profile.push_back(segment);
}

void read_profile(const Node* node, ProgramStep& step, MasterDraft& draft) {
  if (node == nullptr || node->kind == Node::Kind::refused) return;
  if (node->kind != Node::Kind::sequence || node->items.empty())
    return complain_kind(*node, "a list of parts such as " + std::string(kSegmentExample), draft.problems());
  for (const auto& item : node->items) read_segment(item, step, draft);
}

/// Where the loop holds it: one temperature, or a curve.
void read_goal(Fields& fields, ProgramStep& step, MasterDraft& draft) {
  const auto* profile = fields.optional("profile");
  const auto* target = profile != nullptr || fields.node().find("profile") != nullptr
                           ? fields.optional("target")
                           : fields.required("target", "expected where to hold it, or a 'profile'");
  if (profile != nullptr && target != nullptr)
    complain(draft.problems(), profile->header, "a loop has a 'target' or a 'profile', not both");
  read_quantity(target, Dimension::temperature, Bound::any, step.target_value, draft.problems());
  read_profile(profile, step, draft);
}

void read_ends(Fields& fields, ProgramStep& step, Problems& problems) {
  const auto* least = fields.optional("at_least");
  const auto* most = fields.optional("at_most");
  const bool has_least =
      read_within(least, Dimension::ratio, {0.0, 1.0}, "0 % to 100 %", step.at_least, problems);
  const bool has_most =
      read_within(most, Dimension::ratio, {0.0, 1.0}, "0 % to 100 %", step.at_most, problems);
  if ((has_least || has_most) && step.at_least >= step.at_most)
    complain(problems, (has_least ? least : most)->header, "at_least: has to be below 'at_most'");
}

void read_habits(Fields& fields, ProgramStep& step, Problems& problems) {
  using Stale = ProgramStep::Stale;
  static constexpr Choice<Stale> kStale[] = {
      {"hold", Stale::hold}, {"zero", Stale::zero}, {"use-last", Stale::use_last}};
  read_word(fields.optional("stale"), kStale, step.stale, problems);
  static constexpr Choice<bool> kWindUp[] = {{"prevented", false}, {"allowed", true}};
  const auto* wind_up = fields.optional("wind_up");
  read_word(wind_up, kWindUp, step.winds_up, problems);
  if (wind_up != nullptr && step.winds_up && fields.node().find("integral_time") == nullptr)
    complain(problems, wind_up->header,
             "wind_up: only an integral part can, and there is no 'integral_time'");
  static constexpr Choice<bool> kWhileLost[] = {{"hold", false}, {"integrate", true}};
  read_word(fields.optional("while_lost"), kWhileLost, step.integrates_while_lost, problems);
}

}  // namespace

void read_control_keys(Fields& fields, const Node* control, ProgramStep& step, MasterDraft& draft) {
  if (control == nullptr) {
    for (const auto key : {"from", "target", "profile", "gain", "integral_time", "at_least", "at_most",
                           "stale", "wind_up", "while_lost"})
      fields.refuse(key, "goes with 'control' only");
    return;
  }
  auto& problems = draft.problems();
  step.kind = ProgramStep::Kind::control;
  std::string name;
  if (read_text(control, name, problems))
    step.output = read_target(*control, control->place, name, true, draft);
  if (step.output && step.output->info.dimension != Dimension::ratio)
    complain_kind(*control, "a percentage to act on, such as UNIT.setpoint", problems);
  const auto* from = fields.required("from", "expected the signal to hold");
  if (read_text(from, name, problems)) step.measured = read_target(*from, from->place, name, false, draft);
  if (step.measured && step.measured->info.dimension != Dimension::temperature)
    complain(problems, from->place,
             "from: control of '" + name + "' is not there yet; known now: temperatures");
  read_goal(fields, step, draft);
  read_quantity(fields.required("gain", "expected one such as '4 %/K'"), Dimension::gain, Bound::positive,
                step.gain, problems);
  const auto* integral_time = fields.optional("integral_time");
  if (read_duration(integral_time, Bound::not_negative, step.integral_time, problems) &&
      step.integral_time == Duration{})
    complain(problems, integral_time->place,
             "integral_time: '" + integral_time->text +
                 "' must be above 0; a loop without integral part leaves "
                 "the key out");
  read_ends(fields, step, problems);
  read_habits(fields, step, problems);
}

}  // namespace emberline::io
