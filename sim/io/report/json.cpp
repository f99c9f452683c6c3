#include <algorithm>
#include <string>

#include <boost/json.hpp>
#include <boost/json/src.hpp>  // header-only: compiled here and nowhere else

#include "sim/io/report/report.hpp"

namespace emberline::io {
namespace {

namespace json = boost::json;
using rehearsal::Outcome;

std::string_view word_of(Outcome::Result result) {
  switch (result) {
    case Outcome::Result::passed:
      return "passed";
    case Outcome::Result::failed:
      return "failed";
    case Outcome::Result::not_judged:
      return "could not be judged";
  }
  return "";
}

json::object outcome_json(const Outcome& outcome) {
  json::object object;
  object["name"] = outcome.name;
  object["result"] = word_of(outcome.result);
  object["sentence"] = outcome.sentence;
  object["at"] = outcome.at ? json::value(to_seconds(*outcome.at)) : json::value(nullptr);
  return object;
}

json::object pair_json(const bench::TrafficPair& pair) {
  json::object object{{"line", pair.line},         {"master", pair.master},
                      {"unit_id", pair.unit_id},   {"slave", pair.slave},
                      {"requests", pair.requests}, {"per_second", pair.per_second},
                      {"writes", pair.writes},     {"silent", pair.silent},
                      {"retries", pair.retries},   {"late_answers", pair.late}};
  json::object exceptions;
  for (const auto& [code, times] : pair.exceptions) exceptions[std::to_string(code)] = times;
  object["exceptions"] = std::move(exceptions);
  json::array blocks;
  for (const auto& block : pair.blocks)
    blocks.push_back(json::object{{"function", block.function},
                                  {"first", block.first},
                                  {"count", block.count},
                                  {"times", block.times}});
  json::array merges;
  for (const auto& merge : pair.merges)
    merges.push_back(
        json::object{{"first", merge.first}, {"count", merge.count}, {"instead_of", merge.of.size()}});
  object["blocks"] = std::move(blocks);
  object["merges"] = std::move(merges);
  json::array kept;
  for (const auto& write : pair.kept_writes)
    kept.push_back(
        json::object{{"point", write.point}, {"times", write.times}, {"period", to_seconds(write.period)}});
  object["kept_writes"] = std::move(kept);
  return object;
}

json::object traffic_json(const rehearsal::Verdict& verdict) {
  json::array lines;
  for (const auto& line : verdict.traffic.lines) {
    lines.push_back(json::object{{"line", line.line},
                                 {"requests", line.requests},
                                 {"answers", line.answers},
                                 {"broken", line.broken},
                                 {"time_used", to_seconds(line.time_used)}});
    lines.back().as_object()["time_share"] =
        line.time_share ? json::value(*line.time_share) : json::value(nullptr);
  }
  json::array pairs;
  for (const auto& pair : verdict.traffic.pairs) pairs.push_back(pair_json(pair));
  return {{"lines", std::move(lines)},
          {"pairs", std::move(pairs)},
          {"mistaken_answers", verdict.mistaken_answers}};
}

json::object verdict_json(const rehearsal::Verdict& verdict) {
  json::object object;
  object["scenario"] = verdict.title;
  object["file"] = verdict.file_stem;
  object["why"] = verdict.why;
  object["seed"] = verdict.seed;
  object["passed"] = verdict.passed;
  object["ended"] = to_seconds(verdict.ended);
  object["transactions"] = verdict.transactions;
  json::array expectations;
  for (const auto& outcome : verdict.outcomes) expectations.push_back(outcome_json(outcome));
  object["expectations"] = std::move(expectations);
  json::array calls;
  for (const auto& call : verdict.closest_calls) {
    calls.push_back(json::object{{"unit", call.unit},
                                 {"longest_gap", to_seconds(call.longest_gap)},
                                 {"timeout", to_seconds(call.timeout)}});
  }
  object["closest_calls"] = std::move(calls);
  object["traffic"] = traffic_json(verdict);
  json::array journal;
  for (const auto& entry : verdict.journal) {
    journal.push_back(
        json::object{{"at", to_seconds(entry.at)}, {"subject", entry.subject}, {"sentence", entry.sentence}});
  }
  object["journal"] = std::move(journal);
  return object;
}

}  // namespace

std::string verdicts_json(const std::vector<rehearsal::Verdict>& verdicts) {
  json::object root;
  root["format"] = "emberline-verdicts-1";
  root["passed"] =
      std::all_of(verdicts.begin(), verdicts.end(), [](const auto& verdict) { return verdict.passed; });
  json::array list;
  for (const auto& verdict : verdicts) list.push_back(verdict_json(verdict));
  root["rehearsals"] = std::move(list);
  return json::serialize(root) + "\n";
}

std::string ready_json(const std::vector<OpenLine>& lines, const std::optional<std::string>& control) {
  json::object places;
  for (const auto& line : lines) {
    json::object place;
    place["kind"] = bench::to_word(line.kind);
    if (line.kind == bench::LineKind::pty || line.kind == bench::LineKind::serial_port) {
      place["path"] = line.path;
    } else {
      place["host"] = line.host;
      place["port"] = line.port;
    }
    places[line.name] = std::move(place);
  }
  json::object root;
  root["lines"] = std::move(places);
  root["control"] = control ? json::value(json::string(*control)) : json::value(nullptr);
  root["panel"] = nullptr;
  return json::serialize(root) + "\n";
}

}  // namespace emberline::io
