#include "sim/io/panel/traffic_feed.hpp"

#include <algorithm>
#include <utility>

#include "sim/base/serial_format.hpp"
#include "sim/bench/master_name.hpp"

namespace emberline::io {
namespace {

constexpr Duration kRecent = std::chrono::seconds{2};  // what "busy" looks back over
constexpr std::size_t kRequestsKept = 256;  // of a session: a hundred may wait, and others be lost between

}  // namespace

TrafficFeed::TrafficFeed(const BenchFacts& facts) : facts_(facts), lines_(facts.spec.lines.size()) {}

void TrafficFeed::take(const std::vector<LineEvent>& events) {
  for (const auto& event : events) {
    switch (event.kind) {
      case LineEvent::Kind::began:
        take_begin(event);
        break;
      case LineEvent::Kind::ended:
        take_end(event);
        break;
      case LineEvent::Kind::missed:
        take_missed(event);
        break;
      case LineEvent::Kind::frame:
        take_frame(event);
        break;
      case LineEvent::Kind::bytes:
        take_bytes(event);
        break;
      case LineEvent::Kind::request:
        take_request(event);
        break;
      case LineEvent::Kind::answer:
        take_answer(event);
        break;
    }
  }
  while (!ended_.empty() && !frames_.empty() && ended_.front().after < frames_.front().n) ended_.pop_front();
}

TrafficFeed::Session& TrafficFeed::session_of(const LineEvent& event) {
  Session& session = sessions_[event.session];
  session.line = event.line;
  return session;
}

void TrafficFeed::take_begin(const LineEvent& event) {
  Session& session = session_of(event);
  session.asker = std::string(bench::without_port(event.master));
  session.master = event.master;
}

/// Of no request to this line that waits for its answer will be told what became of it, nor of connections
/// that have ended. But which requests had waited too long before is known, and has been told.
void TrafficFeed::take_missed(const LineEvent& event) {
  std::erase_if(sessions_, [&](const auto& entry) {
    if (entry.second.line != event.line) return false;
    settle_open(entry.second, event.at, Fate::settled);
    return true;
  });
  count_missed(event);
}

void TrafficFeed::count_missed(const LineEvent& event) {
  Line& line = lines_[event.line];
  const NumbersOnly& numbers = *event.numbers;
  line.requests += numbers.requests;
  line.broken += numbers.broken;
  if (numbers.requests == 0) return;
  line.last = numbers.last_request;
  Duration time_used{};
  const bench::LineSpec& spec = facts_.spec.lines[event.line];
  if (bench::carries_rtu(spec.kind)) time_used = frames_time(spec.serial, numbers.bytes, numbers.frames);
  line.recent.push_back({numbers.first_request, numbers.last_request, {}, 0, numbers.requests, time_used});
  forget_old(line, numbers.last_request);
}

void TrafficFeed::forget_old(Line& line, SimTime now) {
  while (line.recent.front().last + 2 * kRecent < now) line.recent.pop_front();
}

void TrafficFeed::settle_open(const Session& session, SimTime at, Fate otherwise) {
  for (const auto n : session.frame_of) {
    Frame* request = find(n);
    if (request == nullptr || request->fate != Fate::open) continue;
    request->fate = fate(*request, at);
    if (request->fate == Fate::open) request->fate = otherwise;
  }
}

void TrafficFeed::take_end(const LineEvent& event) {
  if (ended_.size() >= kMost) ended_.pop_front();
  ended_.push_back({last_, event.session, event.line, event.at, event.end});
  const auto session = sessions_.find(event.session);
  if (session == sessions_.end()) return;
  settle_open(session->second, event.at, Fate::no_answer);
  sessions_.erase(session);
}

void TrafficFeed::take_frame(const LineEvent& event) {
  Session& session = session_of(event);
  Frame& frame = add(session, event);
  if (event.number == 0) {
    ++lines_[event.line].broken;
    frame.broken = true;
    return;
  }
  const bool rtu = bench::carries_rtu(facts_.spec.lines[event.line].kind);
  const bool broadcast = rtu && frame.bytes.front() == 0;  // which nobody answers
  if (!broadcast) frame.fate = Fate::open;
  session.last_request = frame.n;
  if (event.number != session.good + 1) session.frame_of.clear();  // those between were missed
  session.good = event.number;
  session.frame_of.push_back(frame.n);
  if (session.frame_of.size() > kRequestsKept) session.frame_of.pop_front();
}

void TrafficFeed::take_bytes(const LineEvent& event) {
  Session& session = session_of(event);
  if (event.bytes.empty()) return;
  // Whose answer it is comes with the next event; of a slave beside ours nobody tells.
  Frame* asked = find(session.last_request);
  const bool foreign = asked != nullptr && bench::carries_rtu(facts_.spec.lines[event.line].kind) &&
                       asked->fate == Fate::unheard && asked->bytes.front() == event.bytes.front();
  const std::uint64_t request = foreign ? asked->n : 0;
  Frame& answer = add(session, event);
  answer.to_units = false;
  answer.request = request;
}

TrafficFeed::Frame& TrafficFeed::add(Session& session, const LineEvent& event) {
  Frame frame;
  if (frames_.size() >= kMost) {
    frame.bytes = std::move(frames_.front().bytes);  // for its memory
    frame.master = std::move(frames_.front().master);
    frames_.pop_front();
  }
  frame.n = ++last_;
  frame.at = event.at;
  frame.line = event.line;
  frame.session = event.session;
  frame.master = session.master;
  frame.bytes.assign(event.bytes.begin(), event.bytes.end());
  session.last_frame = frame.n;
  frames_.push_back(std::move(frame));
  return frames_.back();
}

void TrafficFeed::take_request(const LineEvent& event) {
  const auto session = sessions_.find(event.session);
  Line& line = lines_[event.line];
  ++line.requests;
  line.last = event.at;
  Duration time_used{};
  const bench::LineSpec& spec = facts_.spec.lines[event.line];
  if (bench::carries_rtu(spec.kind))
    time_used = frames_time(spec.serial, event.query_size + event.answer_size, event.answer_size > 0 ? 2 : 1);
  count(line, event, session == sessions_.end() ? std::string() : session->second.asker, time_used);
  if (session == sessions_.end()) return;
  const auto frame = frame_of(session->second, event.number);
  if (!frame) return;
  if (Frame* request = find(*frame)) {
    const bool broadcast = bench::carries_rtu(spec.kind) && event.unit_id == 0;
    if (!event.addressed)
      request->fate = Fate::unheard;
    else if (event.silent && !broadcast)
      request->fate = Fate::silence;
  }
}

void TrafficFeed::take_answer(const LineEvent& event) {
  const auto session = sessions_.find(event.session);
  if (session == sessions_.end()) return;
  Frame* answer = find(session->second.last_frame);
  if (answer == nullptr || answer->to_units) return;
  answer->late = event.late;
  const auto request = frame_of(session->second, event.number);
  if (!request) return;
  answer->request = *request;
  if (Frame* asked = find(*request)) asked->fate = Fate::settled;
}

/// However many thousands a second are asked, those of a millisecond stand together.
void TrafficFeed::count(Line& line, const LineEvent& event, const std::string& asker, Duration time_used) {
  constexpr Duration kTogether = std::chrono::milliseconds{1};
  auto& recent = line.recent;
  auto same = recent.rbegin();
  while (same != recent.rend() && same->at + kTogether > event.at &&
         (same->unit_id != event.unit_id || same->master != asker))
    ++same;
  if (same == recent.rend() || same->at + kTogether <= event.at) {
    recent.push_back({event.at, event.at, asker, event.unit_id, 0, {}});
    same = recent.rbegin();
  }
  ++same->times;
  same->time_used += time_used;
  forget_old(line, event.at);
}

std::optional<std::uint64_t> TrafficFeed::frame_of(const Session& session, std::uint64_t number) {
  const std::uint64_t gone = session.good - session.frame_of.size();
  if (number <= gone || number > session.good) return std::nullopt;
  return session.frame_of[static_cast<std::size_t>(number - gone - 1)];
}

TrafficFeed::Fate TrafficFeed::fate(const Frame& frame, SimTime now) {
  return frame.fate == Fate::open && frame.at + kPatience <= now ? Fate::no_answer : frame.fate;
}

std::uint64_t TrafficFeed::settled(SimTime now) {
  if (!frames_.empty()) settled_ = std::max(settled_, frames_.front().n - 1);
  while (settled_ < last_ && fate(*frame(settled_ + 1), now) != Fate::open) ++settled_;
  return settled_;
}

TrafficFeed::Frame* TrafficFeed::find(std::uint64_t n) {
  return const_cast<Frame*>(std::as_const(*this).frame(n));
}

const TrafficFeed::Frame* TrafficFeed::frame(std::uint64_t n) const {
  if (n == 0 || frames_.empty() || n < frames_.front().n || n > last_) return nullptr;
  return &frames_[static_cast<std::size_t>(n - frames_.front().n)];
}

std::pair<std::size_t, std::size_t> TrafficFeed::between(std::uint64_t after, std::uint64_t last,
                                                         std::size_t limit) const {
  const std::uint64_t gone = frames_.empty() ? last_ : frames_.front().n - 1;
  const auto place = [&](std::uint64_t n) {
    return n <= gone ? std::size_t{0} : static_cast<std::size_t>(std::min(n, last_) - gone);
  };
  const std::size_t end = place(last);
  return {std::max(std::min(place(after), end), end - std::min(limit, end)), end};
}

TrafficFeed::Busy TrafficFeed::busy(std::size_t number, SimTime now) const {
  const Line& line = lines_[number];
  Busy busy;
  busy.requests = line.requests;
  busy.broken = line.broken;
  if (line.last) busy.last_request_age = std::max(Duration{}, now - *line.last);
  const Duration window =
      std::clamp(now.time_since_epoch(), Duration{std::chrono::milliseconds{100}}, kRecent);
  const SimTime begin = now - window;
  std::map<std::pair<std::string, int>, std::uint64_t> by_asker;
  double used_s = 0.0, count = 0.0;
  std::uint64_t known = 0;
  for (const Asked& asked : line.recent) {
    if (asked.last <= begin) continue;
    const double within =
        asked.at > begin ? 1.0 : to_seconds(asked.last - begin) / to_seconds(asked.last - asked.at);
    count += within * static_cast<double>(asked.times);
    used_s += within * to_seconds(asked.time_used);
    if (asked.master.empty()) continue;
    known += asked.times;
    by_asker[{asked.master, asked.unit_id}] += asked.times;
  }
  busy.per_second = count / to_seconds(window);
  if (bench::carries_rtu(facts_.spec.lines[number].kind))
    busy.time_share = std::min(1.0, used_s / to_seconds(window));
  for (const auto& [who, times] : by_asker)
    busy.askers.push_back(
        {who.first, who.second, busy.per_second * static_cast<double>(times) / static_cast<double>(known)});
  return busy;
}

}  // namespace emberline::io
