#include <algorithm>
#include <chrono>
#include <map>
#include <utility>

#include "sim/base/listed.hpp"
#include "sim/io/tables/plan_formats.hpp"
#include "sim/io/tables/plan_words.hpp"
#include "sim/io/tables/table_st_names.hpp"
#include "sim/registers/address.hpp"

namespace emberline::io {
namespace {

using polling::PollPlan;

constexpr std::size_t kWidth = 120;

/// Many tools hold a TIME as whole milliseconds: rounded down, but what is not nothing does not become it.
std::chrono::milliseconds in_milliseconds(Duration duration) {
  constexpr std::chrono::milliseconds kLeast{1};
  const auto whole = std::chrono::floor<std::chrono::milliseconds>(duration);
  return duration > Duration{} ? std::max(whole, kLeast) : whole;
}

/// "T#1s500ms" (IEC 61131-3:2013, 6.3.4): whole numbers, the largest unit first.
std::string time_literal(std::chrono::milliseconds duration) {
  struct Unit {
    std::int64_t in_ms;
    const char* word;
  };
  constexpr Unit kUnits[] = {{86'400'000, "d"}, {3'600'000, "h"}, {60'000, "m"}, {1000, "s"}, {1, "ms"}};
  std::int64_t left_ms = duration.count();
  if (left_ms == 0) return "T#0ms";
  std::string text = "T#";
  for (const Unit& unit : kUnits) {
    if (left_ms >= unit.in_ms) text += std::to_string(left_ms / unit.in_ms) + unit.word;
    left_ms %= unit.in_ms;
  }
  return text;
}

/// Text inside (* and *), on as many lines as it takes.
std::string comment_lines(std::string_view said, std::size_t indent) {
  const std::string text = st_comment(said);
  const std::string before = std::string(indent, ' ') + "(* ";
  const std::size_t room = kWidth - before.size() - std::string_view(" *)").size();
  std::string out;
  std::string_view left = text;
  while (left.size() > room) {
    auto end = left.rfind(' ', room);
    if (end == std::string_view::npos || end == 0) {
      end = room;  // one word: cut, but not within a character (RFC 3629)
      while (end > 1 && (static_cast<unsigned char>(left[end]) & 0xC0U) == 0x80U) --end;
    }
    out += before + std::string(left.substr(0, end)) + " *)\n";
    left.remove_prefix(end);
    left.remove_prefix(std::min(left.find_first_not_of(' '), left.size()));
  }
  return out + before + std::string(left) + " *)\n";
}

std::string time_constant(const std::string& name, Duration duration) {
  std::string text;
  if (duration != in_milliseconds(duration))
    text = comment_lines("Rounded: " + fine_words(duration) + " in the plan.", 2);
  return text + "  " + name + " : TIME := " + time_literal(in_milliseconds(duration)) + ";\n";
}

std::string request_lines(const PollPlan& plan, std::size_t index) {
  const auto& request = plan.requests[index];
  const std::string what = request.slave_name + (request.write ? ": writes " : ": brings ") +
                           listed(wanted_of(plan, request)) + "; " +
                           registers::reference_number(request.range.first, request.table) +
                           (request.every == in_milliseconds(request.every)
                                ? ""
                                : "; the period is rounded, " + fine_words(request.every) + " in the plan");
  return comment_lines(std::to_string(index + 1) + ": " + what, 4) +
         "    (unit_id := " + std::to_string(request.id) + ", function_code := 16#" +
         code_words(request.function) + ", first := 16#" +
         registers::hexadecimal(request.range.first).substr(2) +
         ", count := " + std::to_string(request.range.count) +
         ",\n     period := " + time_literal(in_milliseconds(request.every)) +
         ", phase := " + time_literal(std::chrono::floor<std::chrono::milliseconds>(request.phase)) + ")" +
         (index + 1 < plan.requests.size() ? "," : "") + "\n";
}

/// "- heater (id 1): requests 1, 2": whose requests come seldom together.
std::string numbers_of_slaves(const PollPlan& plan) {
  std::map<std::pair<bool, std::size_t>, std::string> lines;
  for (std::size_t i = 0; i < plan.requests.size(); ++i) {
    const auto& request = plan.requests[i];
    auto& line = lines[{request.io_block, request.slave}];
    if (line.empty())
      line = "- " + request.slave_name + " (id " + std::to_string(request.id) + "): requests ";
    else
      line += ", ";
    line += std::to_string(i + 1);
  }
  std::string text;
  for (const auto& [key, line] : lines) text += comment_lines(line, 0);
  return text;
}

std::string head(const PollPlan& plan) {
  std::string text;
  const auto say = [&text](const std::string& line) { text += comment_lines(line, 0); };
  say(plan.wish.title);
  say("Block reads of the line '" + line_of(plan).name + "' of the bench '" + plan.wish.bench->title + "'");
  say("Load of the line " + share_words(plan.load) + (plan.fits ? ": it fits" : ": IT DOES NOT FIT"));
  for (const auto& misfit : plan.misfits) say(misfit);
  say("IEC 61131-3:2013 (ed. 3), no extensions of any vendor. The standard leaves to the tool:");
  say("- where VAR_GLOBAL may stand: in a configuration, a resource, or a list of global variables;");
  say("- the function block that sends a request, and whether it counts addresses from 0 (as here) or from "
      "1;");
  say("- when a task runs: 'phase' is what has passed since the start when a request first falls due; then "
      "it "
      "falls due every 'period'. One request at a time.");
  say("Times are whole milliseconds, as many tools hold them: rounded down, but never to nothing (phases may "
      "be).");
  if (plan.wish.master.poll_lost_every) {
    say("When a slave leaves a request unanswered, all its requests together come no more often than every " +
        time_words(*plan.wish.master.poll_lost_every) + ", until it answers again:");
    text += numbers_of_slaves(plan);
  }
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
  text += time_constant(prefix + "_TIME_OUT", master.timeout);
  text += "  " + prefix + "_RETRIES : UINT := " + std::to_string(master.retries) + ";\n";
  text += time_constant(prefix + "_RETRY_AFTER", master.retry_after);
  text += time_constant(prefix + "_PAUSE", master.pause);
  text += comment_lines(master.poll_lost_every ? "A slave that does not answer is asked no more often."
                                               : "0: a slave that does not answer is asked as planned.",
                        2);
  text += time_constant(prefix + "_POLL_LOST_EVERY", master.poll_lost_every.value_or(Duration{}));
  text += "  " + prefix + "_REQUESTS : ARRAY [1.." + count + "] OF " + prefix + "_REQUEST := [\n";
  for (std::size_t i = 0; i < plan.requests.size(); ++i) text += request_lines(plan, i);
  return text + "  ];\nEND_VAR\n";
}

}  // namespace emberline::io
