#include "sim/io/panel/traffic_tap.hpp"

#include <utility>

namespace emberline::io {
namespace {

using Kind = LineMark::Kind;

modbus::ByteView bytes_of(std::string_view text) {
  return {reinterpret_cast<const std::uint8_t*>(text.data()), text.size()};
}

/// What is told of everything.
template <class Seen>
LineMark marked(Kind kind, const Seen& seen) {
  LineMark mark;
  mark.kind = kind;
  mark.session = seen.session;
  mark.line = seen.line;
  mark.at = seen.at;
  return mark;
}

/// Keeps the memory for what comes next, but not what a burst took that is long over: it may be many times
/// that.
template <class Element>
void empty(std::vector<Element>& used) {
  constexpr std::size_t kUsual = 4096, kTimes = 4;
  if (used.capacity() > kUsual && used.capacity() > kTimes * used.size())
    used = {};
  else
    used.clear();
}

}  // namespace

void TrafficTap::session_began(const bench::SessionSeen& session) {
  const auto mark = marked(Kind::began, session);
  keep(mark, bytes_of(session.master));
  open_[session.session] = {mark, std::string(session.master)};
  flush();
}

void TrafficTap::session_ended(const bench::SessionSeen& session) {
  auto mark = marked(Kind::ended, session);
  mark.end = session.end;
  open_.erase(session.session);
  keep(mark);
  flush();
}

void TrafficTap::bytes(const bench::BytesSeen& bytes) {
  if (bytes.to_master) keep(marked(Kind::bytes, bytes), bytes.bytes);
}

void TrafficTap::frame(const bench::FrameSeen& frame) {
  auto mark = marked(Kind::frame, frame);
  mark.number = frame.number;
  keep(mark, frame.bytes);
  if (frame.broken()) flush();  // of others a request comes next, or they go with what comes
}

void TrafficTap::request(const bench::RequestSeen& request) {
  auto mark = marked(Kind::request, request);
  mark.number = request.number;
  mark.unit_id = request.unit_id;
  mark.addressed = request.addressed;
  mark.silent = request.answer.empty();
  mark.query_size = request.query_size;
  mark.answer_size = request.answer_size;
  keep(mark);
  if (mark.silent) flush();  // else its answer comes, or what is fetched is asked for once more
}

void TrafficTap::answer(const bench::AnswerSeen& answer) {
  auto mark = marked(Kind::answer, answer);
  mark.number = answer.number;
  mark.late = answer.late;
  keep(mark);
  flush();
}

void TrafficTap::fetch(std::vector<LineEvent>& events) {
  fetched_.clear();
  {
    const std::lock_guard lock(mutex_);
    std::swap(ready_, fetched_);
  }
  empty(events);
  events.reserve(fetched_.entries.size());
  modbus::ByteView text = fetched_.text;
  for (const auto& entry : fetched_.entries) {
    const auto own = text.first(entry.size);
    text = text.subspan(entry.size);
    if (entry.mark.kind == Kind::began)
      events.push_back({entry.mark, {}, {reinterpret_cast<const char*>(own.data()), own.size()}});
    else
      events.push_back({entry.mark, own, {}});
  }
}

void TrafficTap::keep(const LineMark& mark, modbus::ByteView own) {
  if (missed_) return;
  if (kept_.entries.size() < kMost)
    kept_.add(mark, own);
  else
    miss(kept_.entries.front().mark.at);
}

void TrafficTap::miss(SimTime first) {
  missed_ = first;
  kept_.clear();
}

void TrafficTap::flush() {
  if (kept_.entries.empty() && !missed_) return;
  const std::unique_lock lock(mutex_, std::try_to_lock);
  if (!lock.owns_lock()) return;
  if (!missed_ && ready_.entries.size() + kept_.entries.size() > kMost) miss(kept_.entries.front().mark.at);
  if (!missed_) {
    ready_.add(kept_);
    kept_.clear();
  } else if (ready_.entries.empty()) {
    tell_what_is_open();
  }
}

void TrafficTap::tell_what_is_open() {
  LineMark missed;
  missed.kind = Kind::missed;
  missed.at = *missed_;
  ready_.add(missed, {});
  for (const auto& [session, open] : open_) ready_.add(open.mark, bytes_of(open.master));
  missed_.reset();
}

void TrafficTap::Batch::add(const LineMark& mark, modbus::ByteView own) {
  entries.push_back({mark, own.size()});
  text.insert(text.end(), own.begin(), own.end());
}

void TrafficTap::Batch::add(const Batch& other) {
  entries.insert(entries.end(), other.entries.begin(), other.entries.end());
  text.insert(text.end(), other.text.begin(), other.text.end());
}

void TrafficTap::Batch::clear() {
  empty(entries);
  empty(text);
}

}  // namespace emberline::io
