#include "sim/io/panel/traffic_tap.hpp"

#include <utility>

namespace emberline::io {
namespace {

/// What is copied of everything that is seen.
template <class Seen>
LineEvent copied(LineEvent::Kind kind, const Seen& seen) {
  LineEvent event;
  event.kind = kind;
  event.session = seen.session;
  event.line = seen.line;
  event.at = seen.at;
  return event;
}

}  // namespace

void TrafficTap::session_began(const bench::SessionSeen& session) {
  auto event = copied(LineEvent::Kind::began, session);
  event.master = std::string(session.master);
  keep(std::move(event));
}

void TrafficTap::session_ended(const bench::SessionSeen& session) {
  auto event = copied(LineEvent::Kind::ended, session);
  event.end = session.end;
  keep(std::move(event));
}

void TrafficTap::bytes(const bench::BytesSeen& bytes) {
  auto event = copied(LineEvent::Kind::bytes, bytes);
  event.to_master = bytes.to_master;
  event.broken = bytes.broken;
  event.bytes.assign(bytes.bytes.begin(), bytes.bytes.end());
  keep(std::move(event));
}

void TrafficTap::request(const bench::RequestSeen& request) {
  auto event = copied(LineEvent::Kind::request, request);
  event.number = request.number;
  event.unit_id = request.unit_id;
  event.addressed = request.addressed;
  event.silent = request.answer.empty();
  event.query_size = request.query_size;
  event.answer_size = request.answer_size;
  keep(std::move(event));
}

void TrafficTap::answer(const bench::AnswerSeen& answer) {
  auto event = copied(LineEvent::Kind::answer, answer);
  event.number = answer.number;
  event.late = answer.late;
  keep(std::move(event));
}

std::vector<LineEvent> TrafficTap::fetch() {
  std::vector<LineEvent> fetched;
  const std::lock_guard lock(mutex_);
  fetched.swap(events_);
  return fetched;
}

void TrafficTap::keep(LineEvent event) {
  if (kept_.size() < kMost) kept_.push_back(std::move(event));
  flush();
}

void TrafficTap::flush() {
  if (kept_.empty()) return;
  const std::unique_lock lock(mutex_, std::try_to_lock);
  if (!lock.owns_lock()) return;
  for (auto& event : kept_)
    if (events_.size() < kMost) events_.push_back(std::move(event));
  kept_.clear();
}

}  // namespace emberline::io
