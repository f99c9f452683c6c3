#include "sim/io/panel/traffic_json.hpp"

#include "sim/io/panel/frame_words.hpp"
#include "sim/io/panel/json_bits.hpp"

namespace emberline::io {
namespace {

/// What went wrong with a frame, as far as its bytes do not say it.
std::string trouble_around(const TrafficFeed::Frame& frame, const FrameWords& words, SimTime now) {
  const auto id = words.unit_id ? std::to_string(*words.unit_id) : std::string("this");
  switch (TrafficFeed::fate(frame, now)) {
    case TrafficFeed::Fate::unheard:
      return "nobody answers to id " + id;
    case TrafficFeed::Fate::silence:
      return "heard, but there is no answer";
    case TrafficFeed::Fate::no_answer:
      return "no answer has left";
    default:
      break;
  }
  if (frame.late) return "late: it left after the master's next request";
  return {};
}

void put_frame(JsonText& json, const BenchFacts& facts, const TrafficFeed& traffic,
               const TrafficFeed::Frame& frame, SimTime now) {
  FrameToRead read;
  read.line = frame.line;
  read.to_units = frame.to_units;
  read.bytes = frame.bytes;
  read.broken = frame.broken;
  if (const auto* request = traffic.frame(frame.request)) read.request = request->bytes;
  const FrameWords words = words_of(facts.spec, read);
  json.object().key("n").whole(frame.n).key("at").time(frame.at);
  json.key("line").text(facts.spec.lines[frame.line].name).key("master").text(frame.master);
  json.key("to_units").flag(frame.to_units).key("bytes").text(hex_text(frame.bytes));
  json.key("unit_id");
  if (words.unit_id)
    json.whole(*words.unit_id);
  else
    json.null();
  put_text_or_null(json, "slave", words.slave);
  json.key("request");
  if (frame.request != 0)
    json.whole(frame.request);
  else
    json.null();
  json.key("says").text(words.says).key("fields").array();
  for (const auto& field : words.fields)
    json.object()
        .key("bytes")
        .text(field.bytes)
        .key("name")
        .text(field.name)
        .key("means")
        .text(field.means)
        .end_object();
  json.end_array();
  put_text_or_null(json, "trouble", words.trouble ? *words.trouble : trouble_around(frame, words, now));
  json.end_object();
}

}  // namespace

void put_frames(JsonText& json, const BenchFacts& facts, const TrafficFeed& traffic,
                const FramesWanted& wanted) {
  json.key("frames").array();
  const auto [begin, end] = traffic.between(wanted.after, wanted.last, wanted.limit);
  for (auto i = begin; i < end; ++i) put_frame(json, facts, traffic, traffic.frames()[i], wanted.now);
  json.end_array();
}

}  // namespace emberline::io
