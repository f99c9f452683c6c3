#include "sim/base/listed.hpp"
#include "sim/base/quantity.hpp"
#include "sim/io/tables/plan_formats.hpp"
#include "sim/io/tables/plan_words.hpp"
#include "sim/io/tables/table_st_names.hpp"
#include "sim/registers/address.hpp"

namespace emberline::io {
namespace {

using polling::PlannedRequest;
using polling::PollPlan;

/// "T#1500ms" (6.3.4)
std::string time_literal(Duration duration) {
  return "T#" + format_number(static_cast<double>(duration.count()) / 1e6) + "ms";
}

/// PLCs count in whole milliseconds; a phase a little early does no harm.
Duration whole_milliseconds(Duration phase) { return std::chrono::floor<std::chrono::milliseconds>(phase); }

std::string request_lines(const PollPlan& plan, std::size_t index) {
  const auto& request = plan.requests[index];
  const std::string what = request.slave_name + (request.write ? ": writes " : ": brings ") +
                           listed(wanted_of(plan, request)) + "; " +
                           registers::reference_number(request.range.first, request.table);
  return "    (* " + st_comment(std::to_string(index + 1) + ": " + what) +
         " *)\n    (unit_id := " + std::to_string(request.id) + ", function_code := 16#" +
         code_words(request.function) + ", first := 16#" +
         registers::hexadecimal(request.range.first).substr(2) +
         ", count := " + std::to_string(request.range.count) + ", period := " + time_literal(request.every) +
         ", phase := " + time_literal(whole_milliseconds(request.phase)) + ")" +
         (index + 1 < plan.requests.size() ? "," : "") + "\n";
}

std::string head(const PollPlan& plan) {
  std::string text;
  const auto say = [&text](const std::string& line) { text += "(* " + st_comment(line) + " *)\n"; };
  say(plan.wish.title);
  say("Block reads of the line '" + line_of(plan).name + "' of the bench '" + plan.wish.bench->title + "'");
  say("Load of the line " + share_words(plan.load) + (plan.fits ? ": it fits" : ": IT DOES NOT FIT"));
  for (const auto& misfit : plan.misfits) say(misfit);
  say("IEC 61131-3:2013 (ed. 3), no extensions of any vendor. The standard leaves to the tool:");
  say("- where VAR_GLOBAL may stand: in a configuration, a resource, or a list of global variables;");
  say("- the function block that sends a request, and whether it counts addresses from 0 (as here) or from "
      "1;");
  say("- when a task runs: 'phase' is what has passed since the start when a request first falls due,");
  say("  rounded down to whole milliseconds; then it falls due every 'period'. One request at a time.");
  say("A comms watchdog is no safety function, and a plan that fits proves nothing about safety.");
  return text;
}

}  // namespace

std::string plan_st(const PollPlan& plan) {
  const std::string prefix = "POLL_" + st_identifier(line_of(plan).name);
  const std::string count = std::to_string(plan.requests.size());
  const auto& master = plan.wish.master;
  std::string text = head(plan) + "\nTYPE\n  " + prefix + "_REQUEST : STRUCT\n" +
                     "    unit_id : USINT;        (* of the slave *)\n"
                     "    function_code : USINT;  (* 01 to 04 read; 05, 06 and 10 (hex) write *)\n"
                     "    first : UINT;           (* zero-based *)\n"
                     "    count : UINT;           (* registers or bits *)\n"
                     "    period : TIME;\n"
                     "    phase : TIME;           (* first due so long after the start *)\n"
                     "  END_STRUCT;\nEND_TYPE\n\nVAR_GLOBAL CONSTANT\n";
  text += "  " + prefix + "_COUNT : UINT := " + count + ";\n";
  text += "  " + prefix + "_TIME_OUT : TIME := " + time_literal(master.timeout) + ";\n";
  text += "  " + prefix + "_RETRIES : UINT := " + std::to_string(master.retries) + ";\n";
  text += "  " + prefix + "_RETRY_AFTER : TIME := " + time_literal(master.retry_after) + ";\n";
  text += "  " + prefix + "_PAUSE : TIME := " + time_literal(master.pause) + ";\n";
  text += "  " + prefix + "_REQUESTS : ARRAY [1.." + count + "] OF " + prefix + "_REQUEST := [\n";
  for (std::size_t i = 0; i < plan.requests.size(); ++i) text += request_lines(plan, i);
  return text + "  ];\nEND_VAR\n";
}

}  // namespace emberline::io
