#include "sim/bench/line_session.hpp"

#include <algorithm>
#include <utility>

#include "sim/modbus/crc.hpp"

namespace emberline::bench {
namespace {

// A general-purpose system delivers the bytes of one frame with gaps of milliseconds between them.
constexpr Duration kSystemGap = std::chrono::milliseconds{50};

constexpr std::uint8_t kRtuPduAt = 1;  // behind the unit id

modbus::RtuFramer::Timing timing_of(const LineSpec& line, bool strict) {
  const Duration silence =
      strict ? t3_5(line.serial) : line.frame_silence.value_or(std::max(t3_5(line.serial), kSystemGap));
  // Strict silences are shorter than what a few bytes take: the bytes' own time must not count. On a real
  // system nothing is said about when the first byte came, and the longer silence makes up for it.
  return {.inside_frame_max = t1_5(line.serial),
          .between_frames_min = silence,
          .strict = strict,
          .character = strict ? character_time(line.serial) : Duration{}};
}

/// The unit ids that answer on a line.
modbus::RtuFramer::Ids ids_on(const BenchSpec& spec, std::size_t line) {
  modbus::RtuFramer::Ids ids;
  for (const auto& slave : spec.slaves_on(line)) ids.set(static_cast<std::size_t>(slave.id));
  return ids;
}

}  // namespace

LineSession::Counters& LineSession::Counters::operator+=(const Counters& other) {
  requests += other.requests;
  faults += other.faults;
  answers += other.answers;
  late += other.late;
  swallowed += other.swallowed;
  return *this;
}

LineSession::LineSession(Bench& bench, std::size_t line, std::string master, Options options)
    : bench_(bench),
      line_(line),
      master_(std::move(master)),
      comes_at_once_(options.comes_at_once),
      id_(bench.lines().new_session()) {
  const LineSpec& spec = bench.spec().lines.at(line);
  if (carries_rtu(spec.kind)) {
    rtu_.emplace(timing_of(spec, options.strict));
    // A real wire may have real slaves beside ours.
    if (spec.kind == LineKind::serial_port) rtu_->share_with_others(ids_on(bench.spec(), line));
  } else {
    mbap_.emplace();
  }
}

// --- in

void LineSession::receive(modbus::ByteView bytes, SimTime at) {
  begin(at);
  if (!bench_.lines().passes(line_, Way::to_units)) {
    counters_.swallowed += bytes.size();
    return;
  }
  if (rtu_) {
    modbus::Bytes arrived(bytes.begin(), bytes.end());
    bench_.lines().bytes_in(line_, arrived);
    if (!arrived.empty()) rtu_->receive(arrived, at);
  } else {
    show_bytes(false, at, bytes);
    mbap_->receive(bytes);
  }
}

std::optional<SimTime> LineSession::wake_at() const {
  auto next = rtu_ ? rtu_->wake_at() : std::nullopt;
  if (!held_.empty() && (!next || held_.front().delivered < *next)) next = held_.front().delivered;
  return next;
}

std::vector<LineSession::Outgoing> LineSession::poll(SimTime now) {
  std::vector<Outgoing> answers;
  poll(now, answers);
  return answers;
}

void LineSession::poll(SimTime now, std::vector<Outgoing>& answers) {
  while (!held_.empty() && held_.front().delivered <= now) {  // they came before what is fetched now
    const Asked asked = std::move(held_.front());
    held_.pop_front();
    if (!bench_.lines().passes(line_, Way::to_units)) {
      counters_.swallowed += asked.frame.size();
      continue;
    }
    take_up(asked, now, answers);
  }
  if (rtu_) {
    fetch_rtu(now, answers);
  } else {
    fetch_mbap(now, answers);
  }
}

void LineSession::fetch_rtu(SimTime now, std::vector<Outgoing>& answers) {
  while (const auto outcome = rtu_->poll(now)) {
    if (const auto* fault = std::get_if<modbus::RtuFault>(&*outcome)) {
      ++counters_.faults;
      // What is too long has run over the buffer of any receiver, which holds one frame.
      bench_.heard(line_, fault->kind == modbus::RtuFault::Kind::too_long ? modbus::Heard::overrun
                                                                          : modbus::Heard::comm_error);
      show_bytes(false, fault->at, fault->bytes);
      show_frame(0, fault->at, fault->bytes);
      continue;
    }
    if (const auto* answer = std::get_if<modbus::RtuForeignAnswer>(&*outcome)) {
      bench_.heard(line_, modbus::Heard::good_frame);
      show_bytes(true, answer->last_byte, answer->frame);
      continue;
    }
    const auto& request = std::get<modbus::RtuRequest>(*outcome);
    Asked& asked = latest_;
    asked.at = request.last_byte;
    asked.unit_id = request.address;
    asked.frame = modbus::rtu_frame(request.address, request.pdu);
    asked.pdu_at = kRtuPduAt;
    const LineSpec& spec = bench_.spec().lines[line_];
    asked.coming =
        comes_at_once_ && spec.paced ? characters_time(spec.serial, asked.frame.size()) : Duration::zero();
    asked.pdu_size = static_cast<std::uint8_t>(request.pdu.size());
    show_bytes(false, asked.at, asked.frame);
    came(asked, now, answers);
  }
}

void LineSession::fetch_mbap(SimTime now, std::vector<Outgoing>& answers) {
  while (const auto outcome = mbap_->poll()) {
    const auto* request = std::get_if<modbus::MbapRequest>(&*outcome);
    if (request == nullptr) {
      ++counters_.faults;
      show_frame(0, now, std::get<modbus::MbapFault>(*outcome).bytes);
      continue;
    }
    Asked& asked = latest_;
    asked.at = now;
    asked.unit_id = request->unit;
    asked.transaction = request->transaction;
    modbus::put_mbap_frame(request->transaction, request->unit, request->pdu, asked.frame);
    asked.pdu_at = static_cast<std::uint8_t>(modbus::kMbapHeader);
    asked.pdu_size = static_cast<std::uint8_t>(request->pdu.size());
    came(asked, now, answers);
  }
}

void LineSession::came(Asked& asked, SimTime now, std::vector<Outgoing>& answers) {
  asked.number = ++counters_.requests;
  show_frame(asked.number, asked.at, asked.frame);
  std::optional<Duration> held_up = Duration{};
  if (bench_.lines().impaired(line_)) held_up = bench_.lines().request(line_, query_of(asked));
  if (!held_up) return;  // lost on its way
  forget_what_was_lifted();
  const SimTime behind = std::max(last_delivered_, now);
  if (*held_up == Duration::zero() && behind == now) {
    asked.delivered = asked.at;
    take_up(asked, now, answers);
    return;
  }
  asked.delivered = last_delivered_ = std::max(now + *held_up, behind);
  const auto place = std::find_if(held_.begin(), held_.end(),
                                  [&](const Asked& other) { return other.delivered > asked.delivered; });
  held_.insert(place, asked);
}

/// What an impairment put off still comes when its time is there, but once that is lifted, what comes after
/// does not have to wait behind it: the line is good again.
void LineSession::forget_what_was_lifted() {
  const auto lifts = bench_.lines().lifts(line_);
  if (lifts == lifts_) return;
  lifts_ = lifts;
  last_due_ = last_delivered_ = SimTime{};
}

// --- out

void LineSession::take_up(const Asked& asked, SimTime now, std::vector<Outgoing>& answers) {
  if (rtu_) bench_.heard(line_, modbus::Heard::good_frame);
  const Bench::Reply reply = bench_.request(line_, asked.unit_id, asked.pdu(), now, master_);
  const bool broadcast = rtu_ && asked.unit_id == 0;
  std::vector<Piece>& pieces = pieces_;
  pieces.clear();
  if (reply.pdu && !broadcast) {
    Piece answer;
    answer.bytes = rtu_ ? modbus::rtu_frame(asked.unit_id, *reply.pdu)
                        : modbus::mbap_frame(asked.transaction, asked.unit_id, *reply.pdu);
    answer.due = due_of(asked, reply, answer.bytes.size(), now);
    answer.number = asked.number;
    answer.asked_at = asked.at;
    pieces.push_back(std::move(answer));
  }
  RequestSeen seen{id_, asked.number,       line_, master_, now, asked.unit_id, asked.pdu(), reply.addressed,
                   {},  asked.frame.size(), 0,     asked.at};
  if (!pieces.empty()) {
    seen.answer = *reply.pdu;
    seen.answer_size = pieces.front().bytes.size();
  }
  for (LineObserver* observer : bench_.lines().observers()) observer->request(seen);
  if (bench_.lines().impaired(line_)) bench_.lines().answer(line_, query_of(asked), pieces);
  if (!bench_.lines().passes(line_, Way::to_masters)) return;
  for (Piece& piece : pieces) {
    last_due_ = std::max({piece.due, last_due_, now});
    const bool at_hand = piece.number == 0;
    answers.push_back({last_due_, std::move(piece.bytes), at_hand ? asked.number : piece.number,
                       at_hand ? asked.at : piece.asked_at});
  }
}

SimTime LineSession::due_of(const Asked& asked, const Bench::Reply& reply, std::size_t size, SimTime now) {
  const LineSpec& spec = bench_.spec().lines[line_];
  if (!rtu_ || !spec.paced) return now + reply.ready_after;
  // What came while an answer was still going out would have come behind it.
  const SimTime free = std::max(asked.delivered + reply.ready_after, busy_until_) + asked.coming;
  busy_until_ = std::max(free + t3_5(spec.serial) + characters_time(spec.serial, size), now);
  return busy_until_;
}

void LineSession::sent(const Outgoing& piece, SimTime at) {
  ++counters_.answers;
  const bool late = piece.query != counters_.requests;
  if (late) ++counters_.late;
  show_bytes(true, at, piece.bytes);
  for (LineObserver* observer : bench_.lines().observers())
    observer->answer({id_, piece.query, line_, master_, at, late, piece.bytes});
}

Query LineSession::query_of(const Asked& asked) const {
  const LineSpec& spec = bench_.spec().lines[line_];
  const bool timed = rtu_ && spec.paced;
  return {id_,
          asked.number,
          asked.at + asked.coming,
          rtu_.has_value(),
          timed ? character_time(spec.serial) : Duration{},
          asked.unit_id,
          asked.pdu(),
          asked.frame};
}

// --- watching

void LineSession::begin(SimTime at) {
  if (std::exchange(begun_, true)) return;
  for (LineObserver* observer : bench_.lines().observers())
    observer->session_began({id_, line_, master_, at});
}

void LineSession::end(SimTime at, SessionEnd how) {
  if (!begun_ || std::exchange(ended_, true)) return;
  for (LineObserver* observer : bench_.lines().observers())
    observer->session_ended({id_, line_, master_, at, how});
}

void LineSession::show_bytes(bool to_master, SimTime at, modbus::ByteView bytes) const {
  for (LineObserver* observer : bench_.lines().observers())
    observer->bytes({id_, line_, to_master, at, bytes});
}

void LineSession::show_frame(std::uint64_t number, SimTime at, modbus::ByteView bytes) const {
  for (LineObserver* observer : bench_.lines().observers()) observer->frame({id_, number, line_, at, bytes});
}

bool LineSession::lost() const { return mbap_ && mbap_->lost(); }

void LineSession::reset() {
  held_.clear();
  if (rtu_) rtu_->reset();
}

}  // namespace emberline::bench
