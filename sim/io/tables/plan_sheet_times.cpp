#include <algorithm>
#include <set>

#include "sim/base/listed.hpp"
#include "sim/base/quantity.hpp"
#include "sim/base/serial_format.hpp"
#include "sim/io/tables/plan_sheet.hpp"
#include "sim/io/tables/plan_words.hpp"

namespace emberline::io {
namespace {

using polling::PlannedRequest;
using polling::PollPlan;

/// A sum of more terms is read off the table of requests.
constexpr std::size_t kTermsShown = 8;
constexpr int kReadRequest_characters = 8;

std::string sum_words(const PollPlan& plan) {
  std::string text = "Load = sum of line time / every";
  if (plan.requests.size() <= kTermsShown && plan.requests.size() > 1) {
    std::string terms;
    for (const auto& request : plan.requests)
      terms += (terms.empty() ? "" : " + ") + share_words(load_of(request));
    text += " = " + terms;
  } else if (plan.requests.size() > 1) {
    text += " = the column 'of the line', added up";
  }
  return text + " = " + share_words(plan.load) + "; margin = 100 % - " + share_words(plan.load) + " = " +
         share_words(plan.margin) + ".";
}

/// The formula with the numbers of one read, so that it can be done again by hand.
std::string worked_example(const PollPlan& plan, const bench::LineSpec& line) {
  const auto read = std::find_if(plan.requests.begin(), plan.requests.end(),
                                 [](const PlannedRequest& request) { return !request.write; });
  if (read == plan.requests.end()) return {};
  const int count = read->range.count;
  const bool bits = modbus::carries_bits(read->table);
  const std::string answer = bits ? std::to_string((count + 7) / 8) : "2 x " + std::to_string(count);
  return "No " + std::to_string(read - plan.requests.begin() + 1) + ": (" +
         std::to_string(kReadRequest_characters) + " + 5 + " + answer + ") x " +
         fine_words(character_time(line.serial)) + " + 2 x " + fine_words(t3_5(line.serial)) + " + " +
         time_words(turnaround_of(plan, *read)) + " + " + time_words(plan.wish.master.pause) + " = " +
         time_words(read->exchange.whole) + ".";
}

/// Start bit, data, parity, stop bits: what the standard has is 11 of them (MODBUS over Serial Line V1.02,
/// 2.5.1), and the bench paces by that.
std::string character_words(const SerialFormat& format) {
  const int bits = 1 + format.data_bits + (format.parity == 'N' ? 0 : 1) + format.stop_bits;
  constexpr int kStandard = 11;
  if (bits == kStandard) return "A character is 11 bits";
  return "A character is counted as 11 bits, as the standard has it; " +
         to_text(format).substr(to_text(format).find(' ') + 1) + " has " + std::to_string(bits) +
         ", so the true load is " + (bits < kStandard ? "lower" : "higher") + ". One of 11";
}

std::string cycle_formula(const polling::MasterTiming& master) {
  std::string text =
      "A full cycle asks everything once, one after the other: the sum of the line times. A request to a "
      "dead slave takes all its tries instead: (1 + retries) x time-out + retries x retry_after + pause = " +
      std::to_string(master.retries + 1) + " x " + time_words(master.timeout) + " + " +
      std::to_string(master.retries) + " x " + time_words(master.retry_after) + " + " +
      time_words(master.pause) + ".";
  if (master.poll_lost_every)
    text += " It is asked every " + time_words(*master.poll_lost_every) +
            " at most, from the first request on that it leaves unanswered: a cycle holds as many as fit.";
  return text;
}

}  // namespace

PlanSection load_section(const PollPlan& plan) {
  PlanSection section{"Load of the line", {}, {}, {}};
  const auto& line = line_of(plan);
  auto& lines = section.before;
  if (bench::carries_rtu(line.kind)) {
    lines = {
        "line time = request + turnaround + t3.5 + answer + t3.5 + pause (MODBUS over Serial Line V1.02, "
        "2.5.1)",
        character_words(line.serial) + ": " + fine_words(character_time(line.serial)) + " at " +
            std::to_string(line.serial.baud) + " bit/s; t3.5 is " + fine_words(t3_5(line.serial)) +
            "; the master's pause is " + time_words(plan.wish.master.pause) + ".",
        "A read (01 to 04) takes 8 characters, its answer 5 + 2 x registers, or 5 + bits / 8 rounded up. 05 "
        "and 06 take 8 and are answered by 8; 10 (hex) takes 9 + 2 x registers and is answered by 8."};
    if (auto example = worked_example(plan, line); !example.empty()) lines.push_back(std::move(example));
    if (!line.paced)
      lines.emplace_back(
          "On the bench this line is not paced ('pacing: none'): bytes take no time there. The plan reckons "
          "with a real one.");
  } else {
    lines = {"line time = 0.2 ms + turnaround + 0.2 ms + pause (an estimate: a local network of today, ours)",
             "The master's pause is " + time_words(plan.wish.master.pause) + "."};
  }
  lines.push_back(sum_words(plan));
  if (plan.fits) {
    lines.emplace_back("It fits: no period is missed with these phases, and no limit of a slave is passed.");
  } else {
    lines.emplace_back("It does not fit; why stands at the top.");
  }
  return section;
}

PlanSection ages_section(const PollPlan& plan) {
  PlanSection section{"Age of the values", {}, {}, {}};
  if (plan.ages.empty()) {
    section.before = {"Nothing is read."};
    return section;
  }
  auto& table = section.table;
  table.columns = {{"value", false},     {"wanted every", true}, {"read by no", true},
                   {"read every", true}, {"oldest", true},       {"oldest in any phase", true}};
  for (std::size_t i = 0; i < plan.ages.size(); ++i) {
    const auto& age = plan.ages[i];
    const auto& wanted = plan.wish.reads.at(i);
    table.rows.push_back({wanted.name, time_words(wanted.every), std::to_string(age.request + 1),
                          time_words(plan.requests.at(age.request).every), bound_words(age.worst),
                          bound_words(age.worst_any_phase)});
  }
  section.after = {
      "Oldest: from the moment the slave takes up a read until the next answer is with the master, everybody "
      "answering, with these phases. In any phase: however the phases lie, every + the longest wait for the "
      "line + answer, as after a PLC that began with something else. What the slave measured is older by its "
      "averaging, and what the PLC works with by its own cycle.",
      "A request waits for the line for " + bound_words(plan.longest_wait) +
          " at most, everybody answering."};
  if (!plan.walked)
    section.after.emplace_back(
        "These periods come round only after very many requests: what stands here is that of any phase.");
  return section;
}

PlanSection cycle_section(const PollPlan& plan) {
  PlanSection section{"Full cycle, and a slave that is dead", {}, {}, {}};
  section.before = {cycle_formula(plan.wish.master)};
  auto& table = section.table;
  table.columns = {{"who answers", false}, {"full cycle", true}, {"load of the line", true}, {"", false}};
  table.rows.push_back({"everybody", bound_words(plan.full_cycle), share_words(plan.load), ""});
  for (const auto& dead : plan.dead)
    table.rows.push_back({"all but " + dead.slave_name, bound_words(dead.full_cycle), share_words(dead.load),
                          dead.load > 1.0 ? "too much: the others come late" : ""});
  return section;
}

namespace {

std::string judgement(WatchdogFate fate) {
  switch (fate) {
    case WatchdogFate::unsupervised:
      return "off: not watched";
    case WatchdogFate::starves:
      return "NOT FED";
    case WatchdogFate::too_short:
      return "TOO SHORT";
    case WatchdogFate::may_be_too_short:
      return "may be too short";
    case WatchdogFate::these_phases_only:
      return "long enough with these phases only";
    case WatchdogFate::kept_fed:
      return "long enough";
  }
  return "";
}

/// Which part of the figures is the reason.
std::string when_it_trips(const polling::WatchdogAdvice& advice) {
  if (advice.timeout < advice.longest_gap || advice.worst_neighbour.empty())
    return "it trips although everybody answers.";
  return "it trips when " + advice.worst_neighbour + " is dead.";
}

std::string warning(const polling::WatchdogAdvice& advice, WatchdogFate fate) {
  if (fate == WatchdogFate::starves)
    return "WARNING: nothing in this plan feeds the comms watchdog of " + advice.unit_name +
           ": its 'feeds' asks for other requests, or this line does not count. It acts after " +
           time_words(advice.timeout) + " unless something else feeds it.";
  const std::string head =
      "the comms watchdog of " + advice.unit_name + " is set to " + time_words(advice.timeout);
  const std::string bound = bound_words(advice.any_phase_timeout);
  if (fate == WatchdogFate::too_short)
    return "WARNING: " + head + " and has to be " + bound + " or more: " + when_it_trips(advice);
  if (fate == WatchdogFate::may_be_too_short)
    return "WARNING: " + head + " and may be too short: the bound is " + bound + ".";
  if (fate == WatchdogFate::these_phases_only)
    return "WARNING: " + head +
           ", which is long enough with these phases only, and hardly a PLC keeps them; " + bound +
           " is in any phase.";
  return {};
}

/// What stands below a unit: the gaps with these phases.
std::string gaps_words(const polling::WatchdogAdvice& advice) {
  if (!advice.fed) return "nothing in this plan feeds it";
  if (!advice.walked) return "these phases were not looked at";
  const std::string more = knows_phases(advice) ? "" : " or more";
  std::string text = "longest gap with these phases " + bound_words(advice.longest_gap);
  if (!advice.worst_neighbour.empty())
    text += ", with " + advice.worst_neighbour + " dead " + bound_words(advice.longest_gap_dead) + more;
  return text;
}

std::string ordinal(std::uint64_t number) {
  const auto last = number % 10;
  const bool teens = number % 100 / 10 == 1;
  return std::to_string(number) + (teens || last < 1 || last > 3 ? "th"
                                   : last == 1                   ? "st"
                                   : last == 2                   ? "nd"
                                                                 : "rd");
}

/// What was not looked at of these phases; all units of a plan share it.
std::vector<std::string> doubts(const PollPlan& plan) {
  bool walked = true;
  std::uint64_t step = 1;
  std::size_t looked_at = 0;
  std::vector<std::string> unsteady;
  for (const auto& advice : plan.watchdogs) {
    if (!advice.fed) continue;
    walked = walked && advice.walked;
    if (!advice.walked) continue;
    step = std::max(step, advice.death_step);
    if (advice.comes_round) continue;
    looked_at = unsteady.empty() ? advice.looked_at : std::min(looked_at, advice.looked_at);
    unsteady.push_back(advice.unit_name);
  }
  std::vector<std::string> lines;
  if (!walked)
    lines.emplace_back(
        "These periods come round only after very many requests, so these phases were not looked at here.");
  if (!unsteady.empty())
    lines.push_back("With one dead, what comes with these phases was not looked at further than " +
                    std::to_string(looked_at) + " requests for " + listed(unsteady) +
                    ": a longer gap may come later.");
  if (step > 1)
    lines.push_back("That a neighbour dies was tried from the start and from every " + ordinal(step) +
                    " of its requests on, not from each: between them it may be worse.");
  return lines;
}

}  // namespace

PlanSection watchdog_section(const PollPlan& plan) {
  PlanSection section{"Comms watchdogs", {}, {}, {}};
  if (plan.watchdogs.empty()) {
    section.before = {"No unit is polled by this plan."};
    return section;
  }
  section.before = {
      "Timeouts that this polling does not let expire, everybody answering or one neighbour dead:"};
  auto& table = section.table;
  table.columns = {{"unit", false},
                   {"set to", true},
                   {"in any phase", true},
                   {"with these phases", true},
                   {"it is", false}};
  table.remark_head = "gaps";
  std::vector<std::string> warnings;
  for (const auto& advice : plan.watchdogs) {
    const auto fate = fate_of(advice);
    std::string these = "-";
    if (advice.fed && advice.walked)
      these = bound_words(advice.shortest_timeout) + (knows_phases(advice) ? "" : " or more");
    table.rows.push_back(
        {advice.unit_name, advice.timeout == Duration{} ? "none" : time_words(advice.timeout),
         advice.fed ? bound_words(advice.any_phase_timeout) : std::string("-"), these, judgement(fate)});
    table.remarks.push_back(gaps_words(advice));
    if (auto text = warning(advice, fate); !text.empty()) warnings.push_back(std::move(text));
  }
  section.after = {
      "In any phase: the least timeout that is long enough however the phases lie; go by that one, no PLC "
      "keeps "
      "its phases through a time-out. With these phases: the least for exactly these. Gaps: between two "
      "requests "
      "that feed the watchdog, with the neighbour dead that holds up most, from the start or from one of its "
      "requests on. Add the longest time your program may stand still, what a unit needs to start up, and "
      "every "
      "request that gets lost: its time-outs, and the wait for the next."};
  for (auto& doubt : doubts(plan)) section.after.push_back(std::move(doubt));
  section.after.insert(section.after.end(), warnings.begin(), warnings.end());
  section.after.emplace_back(
      "CAUTION: a comms watchdog is no safety function, and a plan that fits proves nothing about safety. "
      "What must not get too hot has a limiter of its own, hard-wired.");
  return section;
}

}  // namespace emberline::io
