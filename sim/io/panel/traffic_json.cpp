#include "sim/io/panel/traffic_json.hpp"

#include "sim/io/panel/frame_words.hpp"
#include "sim/io/panel/json_bits.hpp"

namespace emberline::io {
namespace {

/// What went wrong with a frame, as far as its bytes do not say it.
std::string trouble_around(const TrafficFeed::Frame& frame, const FrameWords& words) {
  const auto id = words.unit_id ? std::to_string(*words.unit_id) : std::string("this");
  if (frame.unheard) return "nobody answers to id " + id;
  if (frame.unanswered) return "heard, but there is no answer";
  if (frame.late) return "late: it left after the master's next request";
  return {};
}

void put_frame(JsonText& json, const BenchFacts& facts, const TrafficFeed& traffic,
               const TrafficFeed::Frame& frame) {
  FrameToRead read;
  read.line = frame.line;
  read.to_units = frame.to_units;
  read.bytes = frame.bytes;
  read.broken = frame.broken;
  if (const auto* request = traffic.frame(frame.request)) read.request = request->bytes;
  const FrameWords words = words_of(facts.spec, read);
  json.object().key("n").whole(frame.n).key("at").number(tidy(to_seconds(frame.at)));
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
  put_text_or_null(json, "trouble", words.trouble ? *words.trouble : trouble_around(frame, words));
  json.end_object();
}

}  // namespace

void put_frames(JsonText& json, const BenchFacts& facts, const TrafficFeed& traffic, std::uint64_t after,
                std::size_t limit) {
  json.key("frames").array();
  for (auto i = traffic.begin_after(after, limit); i < traffic.frames().size(); ++i)
    put_frame(json, facts, traffic, traffic.frames()[i]);
  json.end_array();
}

}  // namespace emberline::io
