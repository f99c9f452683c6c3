#include "sim/io/tables/plan_sheet.hpp"

#include <cmath>
#include <map>
#include <utility>

#include "sim/base/listed.hpp"
#include "sim/base/quantity.hpp"
#include "sim/base/serial_format.hpp"
#include "sim/io/tables/plan_words.hpp"

namespace emberline::io {
namespace {

using polling::PlannedRequest;
using polling::PollPlan;

std::string line_words(const bench::LineSpec& line) {
  using bench::LineKind;
  std::string text = line.name + ": ";
  switch (line.kind) {
    case LineKind::pty:
      text += "Modbus RTU over a pseudo-terminal";
      break;
    case LineKind::serial_port:
      text += "Modbus RTU over a serial port";
      break;
    case LineKind::rtu_tcp:
      text += "Modbus RTU in a TCP connection";
      break;
    case LineKind::tcp:
      return text + "Modbus TCP";
  }
  return text + ", " + to_text(line.serial);
}

std::string master_words(const polling::MasterTiming& master) {
  std::string text = "time-out " + time_words(master.timeout);
  if (master.retries == 0) {
    text += ", no retries";
  } else {
    text += ", " + std::to_string(master.retries) + (master.retries == 1 ? " retry" : " retries");
    if (master.retry_after > Duration{}) text += " after " + time_words(master.retry_after) + " each";
  }
  if (master.pause > Duration{}) text += ", pause " + time_words(master.pause) + " before the next request";
  if (master.poll_lost_every)
    text +=
        ", a slave that does not answer is asked every " + time_words(*master.poll_lost_every) + " at most";
  return text;
}

std::string remark_on(const PollPlan& plan, const PlannedRequest& request) {
  std::string text = (request.write ? "writes " : "brings ") + listed(wanted_of(plan, request));
  if (request.bridged > 0) {
    const bool bits = modbus::carries_bits(request.table);
    text += "; " + std::to_string(request.bridged) + (bits ? " bit" : " register") +
            (request.bridged == 1 ? "" : "s") + " bridged";
  }
  return text;
}

std::string amount(double value) { return format_number(std::round(value * 1000.0) / 1000.0); }

}  // namespace

PlanSection requests_section(const PollPlan& plan) {
  PlanSection section{"Requests", {}, {}, {}};
  auto& table = section.table;
  table.columns = {
      {"no", true},    {"slave", false}, {"id", true},    {"code", true},      {"first address", false},
      {"count", true}, {"every", true},  {"phase", true}, {"line time", true}, {"of the line", true}};
  table.remark_head = "what for";
  for (std::size_t i = 0; i < plan.requests.size(); ++i) {
    const auto& request = plan.requests[i];
    table.rows.push_back(
        {std::to_string(i + 1), request.slave_name, std::to_string(request.id), code_words(request.function),
         first_words(request), std::to_string(request.range.count), time_words(request.every),
         time_words(request.phase), time_words(request.exchange.whole), share_words(load_of(request))});
    table.remarks.push_back(remark_on(plan, request));
  }
  section.after = {
      "Addresses are zero-based, with the reference number in brackets; the function code is hexadecimal. "
      "Phase: a request is first due so long after the start, then every so often. Bridged: registers or "
      "bits in a block that nobody wants, because one longer read is cheaper than two."};
  return section;
}

PlanSection slaves_section(const PollPlan& plan) {
  PlanSection section{"What the slaves have to digest", {}, {}, {}};
  auto& table = section.table;
  table.columns = {{"slave", false},       {"id", true},    {"reads a second", true}, {"limit", true},
                   {"longest read", true}, {"limit", true}, {"turnaround", true}};
  struct Sum {
    const PlannedRequest* any = nullptr;
    double reads_per_s = 0.0;
    int longest = 0;
    bool bits_only = true;
  };
  std::vector<Sum> sums;
  std::map<std::pair<bool, std::size_t>, std::size_t> places;
  for (const auto& request : plan.requests) {
    const auto [place, is_new] = places.try_emplace({request.io_block, request.slave}, sums.size());
    if (is_new) sums.emplace_back().any = &request;
    if (request.write) continue;
    auto& sum = sums[place->second];
    sum.reads_per_s += 1.0 / to_seconds(request.every);
    const int count = request.range.count;
    const int size = modbus::carries_bits(request.table) ? (count + 15) / 16 : count;
    if (size > sum.longest) sum.longest = size;
  }
  for (const auto& sum : sums) {
    const auto& any = *sum.any;
    std::string rate = "-";
    std::string block = "-";
    if (!any.io_block) {
      const auto& intake = plan.wish.bench->units.at(any.slave).unit.intake;
      if (intake.reads_per_second) rate = std::to_string(*intake.reads_per_second);
      if (intake.largest_block) block = std::to_string(*intake.largest_block);
    }
    table.rows.push_back({any.slave_name, std::to_string(any.id), amount(sum.reads_per_s), rate,
                          std::to_string(sum.longest), block, time_words(turnaround_of(plan, any))});
  }
  section.after = {
      "The limits of a slave are for all masters together: what others read, a panel or a tool, comes on "
      "top. The longest read in registers; 16 bits count as one. '-': the bench states no limit."};
  return section;
}

namespace {

/// What has to be seen before anything else.
void add_watchdog_warnings(const PollPlan& plan, std::vector<std::string>& lead) {
  std::size_t trip = 0;
  std::size_t may_trip = 0;
  for (const auto& advice : plan.watchdogs) {
    const auto fate = fate_of(advice);
    if (fate == WatchdogFate::too_short || fate == WatchdogFate::starves) ++trip;
    if (fate == WatchdogFate::may_be_too_short || fate == WatchdogFate::these_phases_only) ++may_trip;
  }
  if (trip > 0)
    lead.push_back("WARNING: " + std::to_string(trip) +
                   (trip == 1 ? " comms watchdog trips" : " comms watchdogs trip") +
                   " by this polling; see the last table.");
  if (may_trip > 0)
    lead.push_back("WARNING: " + std::to_string(may_trip) +
                   (may_trip == 1 ? " comms watchdog" : " comms watchdogs") +
                   " may trip, unless the phases are kept exactly; see the last table.");
}

}  // namespace

PlanSheet sheet_of(const PollPlan& plan) {
  PlanSheet sheet;
  sheet.title = plan.wish.title;
  sheet.lead.push_back("Bench '" + plan.wish.bench->title + "', line " + line_words(line_of(plan)) + ".");
  sheet.lead.push_back("Master: one request at a time; " + master_words(plan.wish.master) + ".");
  if (plan.fits) {
    sheet.lead.push_back("IT FITS: " + share_words(plan.load) + " of the line is used, the margin is " +
                         share_words(plan.margin) + ".");
  } else {
    sheet.lead.push_back("IT DOES NOT FIT. Load of the line: " + share_words(plan.load) + ".");
    for (const auto& misfit : plan.misfits) sheet.lead.push_back("- " + misfit);
  }
  add_watchdog_warnings(plan, sheet.lead);
  sheet.sections = {requests_section(plan), slaves_section(plan), load_section(plan),
                    ages_section(plan),     cycle_section(plan),  watchdog_section(plan)};
  return sheet;
}

}  // namespace emberline::io
