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

}  // namespace

void TrafficTap::session_began(const bench::SessionSeen& session) {
  const auto mark = marked(Kind::began, session);
  keep(mark, bytes_of(session.master));
  open_[session.session] = {mark, std::string(session.master)};
}

void TrafficTap::session_ended(const bench::SessionSeen& session) {
  auto mark = marked(Kind::ended, session);
  mark.end = session.end;
  open_.erase(session.session);
  keep(mark);
}

void TrafficTap::bytes(const bench::BytesSeen& bytes) {
  if (bytes.to_master) keep(marked(Kind::bytes, bytes), bytes.bytes);
}

void TrafficTap::frame(const bench::FrameSeen& frame) {
  auto mark = marked(Kind::frame, frame);
  mark.number = frame.number;
  keep(mark, frame.bytes);
  if (auto* missed = missed_on(frame.line); missed != nullptr && frame.broken()) ++missed->numbers.broken;
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
  auto* missed = missed_on(request.line);
  if (missed == nullptr) return;
  NumbersOnly& numbers = missed->numbers;
  if (numbers.requests++ == 0) numbers.first_request = request.at;
  numbers.last_request = request.at;
  numbers.frames += mark.silent ? 1 : 2;
  numbers.bytes += request.query_size + request.answer_size;
}

void TrafficTap::answer(const bench::AnswerSeen& answer) {
  auto mark = marked(Kind::answer, answer);
  mark.number = answer.number;
  mark.late = answer.late;
  keep(mark);
}

void TrafficTap::fetch(std::vector<LineEvent>& events) {
  fetched_.clear();
  {
    const std::lock_guard lock(mutex_);
    std::swap(ready_, fetched_);
  }
  events.clear();
  events.reserve(fetched_.entries.size());
  modbus::ByteView text = fetched_.text;
  auto numbers = fetched_.numbers.cbegin();
  for (const auto& entry : fetched_.entries) {
    const auto own = text.first(entry.size);
    text = text.subspan(entry.size);
    LineEvent event{entry.mark, {}, {}, nullptr};
    if (entry.mark.kind == Kind::began)
      event.master = {reinterpret_cast<const char*>(own.data()), own.size()};
    else
      event.bytes = own;
    if (entry.mark.kind == Kind::missed) event.numbers = &*numbers++;
    events.push_back(event);
  }
}

TrafficTap::Missed* TrafficTap::missed_on(std::size_t line) {
  return line < missed_.size() ? &missed_[line] : nullptr;
}

void TrafficTap::keep(const LineMark& mark, modbus::ByteView own) {
  if (kept_.entries.size() < kMost) {
    kept_.add(mark, own);
    return;
  }
  if (mark.line >= missed_.size()) missed_.resize(mark.line + 1);
  auto& first = missed_[mark.line].first;
  if (!first) first = mark.at;
}

bool TrafficTap::hand_over() {
  const std::unique_lock lock(mutex_, std::try_to_lock);
  if (!lock.owns_lock()) return false;
  if (!ready_.entries.empty()) return true;
  if (!missed_.empty()) tell_what_was_missed();
  std::swap(kept_, ready_);
  return true;
}

void TrafficTap::tell_what_was_missed() {
  for (std::size_t line = 0; line < missed_.size(); ++line) {
    const auto& [first, numbers] = missed_[line];
    if (!first) continue;
    LineMark mark;
    mark.kind = Kind::missed;
    mark.line = line;
    mark.at = *first;
    kept_.add(mark, {});
    kept_.numbers.push_back(numbers);
  }
  for (const auto& [session, open] : open_)
    if (const auto* missed = missed_on(open.mark.line); missed != nullptr && missed->first)
      kept_.add(open.mark, bytes_of(open.master));
  missed_.clear();
}

void TrafficTap::Batch::add(const LineMark& mark, modbus::ByteView own) {
  entries.push_back({mark, own.size()});
  text.insert(text.end(), own.begin(), own.end());
}

void TrafficTap::Batch::clear() {
  entries.clear();
  text.clear();
  numbers.clear();
}

}  // namespace emberline::io
