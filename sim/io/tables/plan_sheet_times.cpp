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
        "A character is 11 bits: " + fine_words(character_time(line.serial)) + " at " +
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
    lines.emplace_back("It does not fit:");
    for (const auto& misfit : plan.misfits) lines.push_back("- " + misfit);
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
    case WatchdogFate::kept_fed:
      return "long enough";
  }
  return "";
}

std::string warning(const polling::WatchdogAdvice& advice, WatchdogFate fate) {
  const auto name = advice.unit_name;
  if (fate == WatchdogFate::starves)
    return "WARNING: nothing in this plan feeds the comms watchdog of " + name +
           ": its 'feeds' asks for other requests, or this line does not count. It acts after " +
           time_words(advice.timeout) + " unless something else feeds it.";
  if (fate != WatchdogFate::too_short) return {};
  const bool healthy = advice.timeout < advice.longest_gap;
  return "WARNING: the comms watchdog of " + name + " is set to " + time_words(advice.timeout) +
         " and has to be " + bound_words(advice.shortest_timeout) + " or more: it trips " +
         (healthy || advice.worst_neighbour.empty() ? "although everybody answers."
                                                    : "when " + advice.worst_neighbour + " is dead.");
}

}  // namespace

PlanSection watchdog_section(const PollPlan& plan) {
  PlanSection section{"Comms watchdogs", {}, {}, {}};
  if (plan.watchdogs.empty()) {
    section.before = {"No unit is polled by this plan."};
    return section;
  }
  auto& table = section.table;
  table.columns = {{"unit", false},      {"timeout", true},   {"longest gap", true}, {"one dead", true},
                   {"which one", false}, {"any phase", true}, {"shortest", true},    {"timeout is", false}};
  std::vector<std::string> warnings;
  std::vector<std::string> unsteady;
  for (const auto& advice : plan.watchdogs) {
    const auto fate = fate_of(advice);
    const auto bound = [&](Duration duration) {
      return advice.fed ? bound_words(duration) : std::string("-");
    };
    const bool alone = advice.worst_neighbour.empty();
    table.rows.push_back({advice.unit_name,
                          advice.timeout == Duration{} ? "none" : time_words(advice.timeout),
                          bound(advice.longest_gap), alone ? "-" : bound(advice.longest_gap_dead),
                          alone || !advice.fed ? "-" : advice.worst_neighbour, bound(advice.any_phase_gap),
                          bound(advice.shortest_timeout), judgement(fate)});
    if (advice.fed && !alone && !advice.comes_round) unsteady.push_back(advice.unit_name);
    if (auto text = warning(advice, fate); !text.empty()) warnings.push_back(std::move(text));
  }
  section.after = {
      "Longest gap: between two requests that feed the watchdog, everybody answering. One dead: with the "
      "neighbour dead that holds up most, from the start or from any request on. Any phase: a bound for that "
      "however the phases lie, for a PLC that does not keep them. Shortest: the least timeout that this "
      "polling does not let expire. Add the longest time your program may stand still, and what a unit needs "
      "to start up."};
  if (!unsteady.empty())
    section.after.push_back(
        "With that neighbour dead the requests never come in the same order again: the gap of " +
        listed(unsteady) + " is the longest among very many of them.");
  section.after.insert(section.after.end(), warnings.begin(), warnings.end());
  section.after.emplace_back(
      "CAUTION: a comms watchdog is no safety function, and a plan that fits proves nothing about safety. "
      "What must not get too hot has a limiter of its own, hard-wired.");
  return section;
}

}  // namespace emberline::io
