#include <boost/json.hpp>

#include "sim/base/serial_format.hpp"
#include "sim/io/tables/plan_formats.hpp"
#include "sim/io/tables/plan_sheet.hpp"
#include "sim/io/tables/plan_words.hpp"
#include "sim/io/tables/table_words.hpp"
#include "sim/registers/address.hpp"

namespace emberline::io {
namespace {

namespace json = boost::json;
using polling::PollPlan;

json::array texts(const std::vector<std::string>& lines) {
  json::array array;
  for (const auto& line : lines) array.emplace_back(line);
  return array;
}

json::object line_json(const bench::LineSpec& line) {
  json::object object{{"name", line.name}, {"kind", bench::to_word(line.kind)}};
  const bool rtu = bench::carries_rtu(line.kind);
  object["serial"] = rtu ? json::value(to_text(line.serial)) : json::value();
  object["character"] = rtu ? json::value(to_seconds(character_time(line.serial))) : json::value();
  object["t3_5"] = rtu ? json::value(to_seconds(t3_5(line.serial))) : json::value();
  return object;
}

json::object master_json(const polling::MasterTiming& master) {
  return {{"timeout", to_seconds(master.timeout)},
          {"retries", master.retries},
          {"retry_after", to_seconds(master.retry_after)},
          {"pause", to_seconds(master.pause)},
          {"poll_lost_every",
           master.poll_lost_every ? json::value(to_seconds(*master.poll_lost_every)) : json::value()}};
}

json::array requests_json(const PollPlan& plan) {
  json::array array;
  for (const auto& request : plan.requests)
    array.push_back(
        json::object{{"slave", request.slave_name},
                     {"io_block", request.io_block},
                     {"unit_id", request.id},
                     {"write", request.write},
                     {"function", request.function},
                     {"table", word_of(request.table)},
                     {"first", request.range.first},
                     {"reference", registers::reference_number(request.range.first, request.table)},
                     {"count", request.range.count},
                     {"every", to_seconds(request.every)},
                     {"phase", to_seconds(request.phase)},
                     {"line_time", to_seconds(request.exchange.whole)},
                     {"load", load_of(request)},
                     {"bridged", request.bridged},
                     {"brings", texts(wanted_of(plan, request))}});
  return array;
}

json::array values_json(const PollPlan& plan) {
  json::array array;
  for (std::size_t i = 0; i < plan.ages.size(); ++i) {
    const auto& age = plan.ages[i];
    const auto& wanted = plan.wish.reads.at(i);
    array.push_back(json::object{{"name", wanted.name},
                                 {"every", to_seconds(wanted.every)},
                                 {"request", age.request},
                                 {"oldest", to_seconds(age.worst)},
                                 {"oldest_in_any_phase", to_seconds(age.worst_any_phase)}});
  }
  return array;
}

json::array dead_json(const PollPlan& plan) {
  json::array array;
  for (const auto& dead : plan.dead)
    array.push_back(json::object{
        {"slave", dead.slave_name}, {"full_cycle", to_seconds(dead.full_cycle)}, {"load", dead.load}});
  return array;
}

std::string_view word_of_fate(WatchdogFate fate) {
  switch (fate) {
    case WatchdogFate::unsupervised:
      return "unsupervised";
    case WatchdogFate::starves:
      return "not-fed";
    case WatchdogFate::too_short:
      return "too-short";
    case WatchdogFate::may_be_too_short:
      return "may-be-too-short";
    case WatchdogFate::these_phases_only:
      return "these-phases-only";
    case WatchdogFate::kept_fed:
      return "kept-fed";
  }
  return "";
}

json::array watchdogs_json(const PollPlan& plan) {
  json::array array;
  for (const auto& advice : plan.watchdogs) {
    const auto time = [&](Duration duration) {
      return advice.fed ? json::value(to_seconds(duration)) : json::value();
    };
    const bool alone = advice.worst_neighbour.empty();
    array.push_back(
        json::object{{"unit", advice.unit_name},
                     {"timeout", to_seconds(advice.timeout)},
                     {"gap_in_any_phase", time(advice.any_phase_gap)},
                     {"timeout_in_any_phase", time(advice.any_phase_timeout)},
                     {"walked", advice.walked},
                     {"longest_gap", time(advice.longest_gap)},
                     {"longest_gap_with_one_dead", alone ? json::value() : time(advice.longest_gap_dead)},
                     {"worst_neighbour", alone ? json::value() : json::value(advice.worst_neighbour)},
                     {"shortest_timeout", time(advice.shortest_timeout)},
                     {"comes_round", advice.comes_round},
                     {"looked_at", advice.comes_round ? json::value() : json::value(advice.looked_at)},
                     {"death_step", advice.death_step},
                     {"result", word_of_fate(fate_of(advice))}});
  }
  return array;
}

}  // namespace

std::string plan_json(const PollPlan& plan) {
  const json::object object{{"format", "emberline-poll-plan-1"},
                            {"title", plan.wish.title},
                            {"bench", plan.wish.bench->title},
                            {"line", line_json(line_of(plan))},
                            {"master", master_json(plan.wish.master)},
                            {"fits", plan.fits},
                            {"misfits", texts(plan.misfits)},
                            {"load", plan.load},
                            {"margin", plan.margin},
                            {"formula", texts(load_section(plan).before)},
                            {"requests", requests_json(plan)},
                            {"values", values_json(plan)},
                            {"walked", plan.walked},
                            {"longest_wait", to_seconds(plan.longest_wait)},
                            {"full_cycle", to_seconds(plan.full_cycle)},
                            {"dead", dead_json(plan)},
                            {"watchdogs", watchdogs_json(plan)}};
  return json::serialize(object) + "\n";
}

}  // namespace emberline::io
