#include <algorithm>
#include <string>

#include "sim/io/report/json_text.hpp"
#include "sim/io/report/report.hpp"
#include "sim/io/report/words.hpp"

namespace emberline::io {
namespace {

using rehearsal::Outcome;
using rehearsal::Verdict;

void put_texts(JsonText& json, const std::vector<std::string>& texts) {
  json.array();
  for (const auto& text : texts) json.text(text);
  json.end_array();
}

void put_outcome(JsonText& json, const Outcome& outcome) {
  json.line().object().key("name").text(outcome.name);
  json.key("result").text(word_of(outcome.result)).key("sentence").text(outcome.sentence).key("at");
  if (outcome.at) {
    json.time(*outcome.at);
  } else {
    json.null();
  }
  json.key("around").object().key("signals");
  put_texts(json, outcome.around.signals);
  json.key("rows").array();
  for (const auto& row : outcome.around.rows) {
    json.object().key("at").time(row.at).key("values");
    put_texts(json, row.values);
    json.end_object();
  }
  json.end_array().end_object().end_object();
}

void put_trend(JsonText& json, const rehearsal::Trend& trend) {
  json.line().object().key("signal").text(trend.signal).key("unit").text(trend.unit);
  json.key("names").array();
  for (const auto& name : trend.names)
    json.object().key("value").number(name.value).key("name").text(name.name).end_object();
  json.end_array().key("points").array();
  for (const auto& point : trend.points)
    json.array().time(point.at).number(point.low).number(point.high).end_array();
  json.end_array().end_object();
}

void put_blocks(JsonText& json, const bench::TrafficPair& pair) {
  json.key("blocks").array();
  for (const auto& block : pair.blocks) {
    json.object().key("function").whole(block.function).key("first").whole(block.first);
    json.key("count").whole(block.count).key("times").whole(block.times).end_object();
  }
  json.end_array().key("merges").array();
  for (const auto& merge : pair.merges) {
    json.object().key("first").whole(merge.first).key("count").whole(merge.count).key("of").array();
    for (const auto block : merge.of) json.whole(block);
    json.end_array().end_object();
  }
  json.end_array().key("kept_writes").array();
  for (const auto& write : pair.kept_writes) {
    json.object().key("point").text(write.point).key("times").whole(write.times);
    json.key("period").time(write.period).end_object();
  }
  json.end_array();
}

void put_pair(JsonText& json, const bench::TrafficPair& pair) {
  json.line().object().key("line").text(pair.line).key("master").text(pair.master);
  json.key("unit_id").whole(pair.unit_id).key("slave").text(pair.slave);
  json.key("requests").whole(pair.requests).key("per_second").number(pair.per_second);
  json.key("writes").whole(pair.writes).key("silent").whole(pair.silent);
  json.key("retries").whole(pair.retries).key("late_answers").whole(pair.late);
  json.key("exceptions").object();
  for (const auto& [code, times] : pair.exceptions) json.key(std::to_string(code)).whole(times);
  json.end_object();
  put_blocks(json, pair);
  json.end_object();
}

void put_traffic(JsonText& json, const Verdict& verdict) {
  json.object().key("lines").array();
  for (const auto& line : verdict.traffic.lines) {
    json.line().object().key("line").text(line.line).key("requests").whole(line.requests);
    json.key("answers").whole(line.answers).key("broken").whole(line.broken);
    json.key("time_used").time(line.time_used).key("time_share");
    if (line.time_share) {
      json.number(*line.time_share);
    } else {
      json.null();
    }
    json.end_object();
  }
  json.end_array().key("pairs").array();
  for (const auto& pair : verdict.traffic.pairs) put_pair(json, pair);
  json.end_array().key("plans").array();
  for (const auto& review : verdict.plan_reviews) {
    json.line().object().key("plan").text(review.plan).key("line").text(review.line).key("said").array();
    for (const auto& sentence : review.sentences) json.text(sentence);
    json.end_array().end_object();
  }
  json.end_array().key("mistaken_answers").whole(verdict.mistaken_answers).end_object();
}

void put_doings(JsonText& json, const Verdict& verdict) {
  json.line().key("marks").array();
  for (const auto& mark : verdict.marks) {
    json.line().object().key("at").time(mark.at).key("text").text(mark.text);
    json.key("by_human").flag(mark.by_human).end_object();
  }
  json.end_array().line().key("writes").array();
  for (const auto& write : verdict.writes) {
    json.line().object().key("master").text(write.master).key("point").text(write.point);
    json.key("times").whole(write.times).key("refused").whole(write.refused);
    json.key("first_at").time(write.first_at).key("first").text(write.first);
    json.key("last_at").time(write.last_at).key("last").text(write.last);
    json.key("lowest").text(write.lowest).key("highest").text(write.highest).end_object();
  }
  json.end_array().line().key("silences").array();
  for (const auto& silence : verdict.silences) {
    json.line().object().key("slave").text(silence.slave).key("longest").time(silence.longest);
    json.key("until").time(silence.until).end_object();
  }
  json.end_array();
}

void put_head(JsonText& json, const Verdict& verdict) {
  json.key("scenario").text(verdict.title).line().key("file").text(verdict.file_stem);
  json.line().key("why").text(verdict.why).line().key("version").text(verdict.version);
  json.line().key("files").array();
  for (const auto& file : verdict.files)
    json.object().key("name").text(file.name).key("sha256").text(file.sha256).end_object();
  json.end_array().line().key("seed").whole(verdict.seed);
  json.line().key("clock").text(verdict.wall_clock ? "wall" : "stepped");
  json.line().key("real_master").flag(verdict.real_master);
  json.line().key("by_hand").flag(verdict.by_hand);
  json.line().key("plant_speed").number(verdict.plant_speed);
  json.line().key("passed").flag(verdict.passed).line().key("ended").time(verdict.ended);
  json.line().key("transactions").whole(verdict.transactions);
}

void put_verdict(JsonText& json, const Verdict& verdict) {
  json.line().object();
  put_head(json, verdict);
  json.line().key("expectations").array();
  for (const auto& outcome : verdict.outcomes) put_outcome(json, outcome);
  json.end_array();
  put_doings(json, verdict);
  json.line().key("closest_calls").array();
  for (const auto& call : verdict.closest_calls) {
    json.object().key("unit").text(call.unit).key("longest_gap").time(call.longest_gap);
    json.key("timeout").time(call.timeout).end_object();
  }
  json.end_array().line().key("traffic");
  put_traffic(json, verdict);
  json.line().key("trends").array();
  for (const auto& trend : verdict.trends) put_trend(json, trend);
  json.end_array().line().key("journal").array();
  for (const auto& entry : verdict.journal) {
    json.line().object().key("at").time(entry.at).key("subject").text(entry.subject);
    json.key("sentence").text(entry.sentence).end_object();
  }
  json.end_array().end_object();
}

}  // namespace

std::string verdicts_json(const std::vector<Verdict>& verdicts, const std::optional<ShardPlace>& shard) {
  JsonText json;
  json.object().key("format").text(kVerdictsFormat).key("shard");
  if (shard) {
    json.object().key("part").whole(shard->part).key("of").whole(shard->of);
    json.key("listed").whole(shard->listed).end_object();
  } else {
    json.null();
  }
  json.key("passed");
  json.flag(
      std::all_of(verdicts.begin(), verdicts.end(), [](const auto& verdict) { return verdict.passed; }));
  json.key("rehearsals").array();
  for (const auto& verdict : verdicts) put_verdict(json, verdict);
  json.end_array().end_object();
  return std::move(json).finished() + "\n";
}

}  // namespace emberline::io
