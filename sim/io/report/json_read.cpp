#include <algorithm>
#include <charconv>

#include <boost/json/stream_parser.hpp>

#include "sim/base/plain_text.hpp"
#include "sim/base/quantity.hpp"
#include "sim/io/report/json_cursor.hpp"
#include "sim/io/report/report.hpp"
#include "sim/io/report/words.hpp"

namespace emberline::io {
namespace {

using rehearsal::Outcome;
using rehearsal::Verdict;

constexpr std::size_t kLongestFormatSaid = 60;

Outcome read_outcome(const JsonCursor& from) {
  Outcome outcome;
  outcome.name = from["name"].text();
  const auto word = from["result"].text();
  using Result = Outcome::Result;
  const auto results = {Result::passed, Result::failed, Result::not_judged};
  const auto* const result = std::find_if(results.begin(), results.end(),
                                          [&](Result candidate) { return word == word_of(candidate); });
  if (result == results.end()) {
    from["result"].complain("passed, failed or could not be judged");
  } else {
    outcome.result = *result;
  }
  outcome.sentence = from["sentence"].text();
  if (!from["at"].is_null()) outcome.at = from["at"].instant();
  outcome.around.signals = from["around"]["signals"].texts();
  for (const auto& row : from["around"]["rows"].items()) {
    outcome.around.rows.push_back({row["at"].instant(), row["values"].texts()});
    if (outcome.around.rows.back().values.size() != outcome.around.signals.size())
      row["values"].complain("one for each of the signals");
  }
  return outcome;
}

rehearsal::Trend read_trend(const JsonCursor& from) {
  rehearsal::Trend trend;
  trend.signal = from["signal"].text();
  trend.unit = from["unit"].text();
  for (const auto& name : from["names"].items())
    trend.names.push_back({name["value"].number(), name["name"].text()});
  for (const auto& point : from["points"].items()) {
    const auto numbers = point.items();
    if (numbers.size() != 3) {
      point.complain("a time, a lowest and a highest value");
      break;
    }
    trend.points.push_back({numbers[0].instant(), numbers[1].number_or_nan(), numbers[2].number_or_nan()});
    const auto n = trend.points.size();
    if (n > 1 && trend.points[n - 1].at < trend.points[n - 2].at) point.complain("times that never go back");
  }
  return trend;
}

bench::TrafficPair read_pair(const JsonCursor& from) {
  bench::TrafficPair pair;
  pair.line = from["line"].text();
  pair.master = from["master"].text();
  from["unit_id"].whole(pair.unit_id);
  pair.slave = from["slave"].text();
  from["requests"].whole(pair.requests);
  pair.per_second = from["per_second"].number();
  from["writes"].whole(pair.writes);
  from["silent"].whole(pair.silent);
  from["retries"].whole(pair.retries);
  from["late_answers"].whole(pair.late);
  for (const auto& [code, times] : from["exceptions"].members()) {
    int number = 0;
    const auto [end, error] = std::from_chars(code.data(), code.data() + code.size(), number);
    if (error != std::errc{} || end != code.data() + code.size()) times.complain("exception codes as keys");
    times.whole(pair.exceptions[number]);
  }
  for (const auto& item : from["blocks"].items()) {
    auto& block = pair.blocks.emplace_back();
    item["function"].whole(block.function);
    item["first"].whole(block.first);
    item["count"].whole(block.count);
    item["times"].whole(block.times);
  }
  for (const auto& item : from["merges"].items()) {
    auto& merge = pair.merges.emplace_back();
    item["first"].whole(merge.first);
    item["count"].whole(merge.count);
    for (const auto& of : item["of"].items()) {
      of.whole(merge.of.emplace_back());
      if (merge.of.back() >= pair.blocks.size()) of.complain("the place of one of the blocks");
    }
    if (merge.of.empty()) item["of"].complain("the place of a block at least");
  }
  for (const auto& item : from["kept_writes"].items()) {
    auto& write = pair.kept_writes.emplace_back();
    write.point = item["point"].text();
    item["times"].whole(write.times);
    write.period = item["period"].duration();
  }
  return pair;
}

void read_traffic(const JsonCursor& from, Verdict& verdict) {
  for (const auto& item : from["lines"].items()) {
    auto& line = verdict.traffic.lines.emplace_back();
    line.line = item["line"].text();
    item["requests"].whole(line.requests);
    item["answers"].whole(line.answers);
    item["broken"].whole(line.broken);
    line.time_used = item["time_used"].duration();
    if (!item["time_share"].is_null()) line.time_share = item["time_share"].number();
  }
  for (const auto& item : from["pairs"].items()) verdict.traffic.pairs.push_back(read_pair(item));
  // Reports from before there were plans have no such key.
  const auto plans = from.has("plans") ? from["plans"].items() : std::vector<JsonCursor>{};
  for (const auto& item : plans) {
    auto& review = verdict.plan_reviews.emplace_back();
    review.plan = item["plan"].text();
    review.line = item["line"].text();
    review.sentences = item["said"].texts();
  }
  from["mistaken_answers"].whole(verdict.mistaken_answers);
}

void read_doings(const JsonCursor& from, Verdict& verdict) {
  for (const auto& item : from["marks"].items())
    verdict.marks.push_back({item["at"].instant(), item["text"].text(), item["by_human"].flag()});
  for (const auto& item : from["writes"].items()) {
    auto& write = verdict.writes.emplace_back();
    write.master = item["master"].text();
    write.point = item["point"].text();
    item["times"].whole(write.times);
    item["refused"].whole(write.refused);
    write.first_at = item["first_at"].instant();
    write.first = item["first"].text();
    write.last_at = item["last_at"].instant();
    write.last = item["last"].text();
    write.lowest = item["lowest"].text();
    write.highest = item["highest"].text();
  }
  for (const auto& item : from["silences"].items())
    verdict.silences.push_back({item["slave"].text(), item["longest"].duration(), item["until"].instant()});
  for (const auto& item : from["closest_calls"].items())
    verdict.closest_calls.push_back(
        {item["unit"].text(), item["longest_gap"].duration(), item["timeout"].duration()});
}

void read_head(const JsonCursor& from, Verdict& verdict) {
  verdict.title = from["scenario"].text();
  verdict.file_stem = from["file"].file_stem();
  verdict.why = from["why"].lines();
  verdict.version = from["version"].text();
  for (const auto& file : from["files"].items())
    verdict.files.push_back({file["name"].text(), file["sha256"].text()});
  from["seed"].whole(verdict.seed);
  const auto clock = from["clock"].text();
  verdict.wall_clock = clock == "wall";
  if (!verdict.wall_clock && clock != "stepped") from["clock"].complain("stepped or wall");
  verdict.real_master = from["real_master"].flag();
  verdict.by_hand = from["by_hand"].flag();
  verdict.plant_speed = from["plant_speed"].number();
  verdict.passed = from["passed"].flag();
  verdict.ended = from["ended"].instant();
  from["transactions"].whole(verdict.transactions);
}

Verdict read_verdict(const JsonCursor& from) {
  Verdict verdict;
  read_head(from, verdict);
  for (const auto& item : from["expectations"].items()) verdict.outcomes.push_back(read_outcome(item));
  if (verdict.passed != (!verdict.outcomes.empty() && met(verdict) == verdict.outcomes.size()))
    from["passed"].complain("what the expectations say");
  read_doings(from, verdict);
  read_traffic(from["traffic"], verdict);
  for (const auto& item : from["trends"].items()) verdict.trends.push_back(read_trend(item));
  for (const auto& item : from["journal"].items())
    verdict.journal.push_back({item["at"].instant(), item["subject"].text(), item["sentence"].text()});
  return verdict;
}

std::optional<ShardPlace> read_shard(const JsonCursor& from) {
  if (from.is_null()) return std::nullopt;
  ShardPlace shard;
  from["part"].whole(shard.part);
  from["of"].whole(shard.of);
  from["listed"].whole(shard.listed);
  if (shard.part < 1 || shard.part > shard.of) from["part"].complain("the number of one of the parts");
  return shard;
}

/// Why this is no file of ours; empty if it is one.
std::string foreign(const boost::json::value& root) {
  const std::string wanted = "expected what 'emberline rehearse --json' writes";
  const auto* object = root.if_object();
  const auto* format = object == nullptr ? nullptr : object->if_contains("format");
  if (format == nullptr || !format->is_string()) return "holds no verdicts, " + wanted;
  const std::string_view given = format->get_string();
  if (given == kVerdictsFormat) return {};
  const auto found = one_line(std::string(given), kLongestFormatSaid);
  if (found.starts_with("emberline-verdicts-"))
    return "is of another version of emberline: its format is '" + found + "', expected '" +
           std::string(kVerdictsFormat) + "'";
  return "is of the format '" + found + "', " + wanted;
}

}  // namespace

Result<VerdictsFile, std::string> verdicts_from_json(std::string_view text) {
  boost::json::error_code error;
  boost::json::stream_parser parser;
  parser.write(text.data(), text.size(), error);
  if (error) return Failure{std::string("is not JSON, expected what 'emberline rehearse --json' writes")};
  parser.finish(error);  // what is wrong only now is what is missing, inside of a number too
  if (error)
    return Failure{std::string(text.empty() ? "is empty" : "ends in the middle") +
                   ", expected what 'emberline rehearse --json' writes"};
  const auto root = parser.release();
  if (auto why = foreign(root); !why.empty()) return Failure{std::move(why)};
  std::string complaint;
  const JsonCursor cursor(&root, "", complaint);
  VerdictsFile file;
  file.shard = read_shard(cursor["shard"]);
  for (const auto& item : cursor["rehearsals"].items()) {
    file.verdicts.push_back(read_verdict(item));
    if (!complaint.empty()) return Failure{std::move(complaint)};
  }
  if (!complaint.empty()) return Failure{std::move(complaint)};
  return file;
}

}  // namespace emberline::io
