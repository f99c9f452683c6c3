#include "sim/bench/line_session.hpp"

#include <algorithm>
#include <utility>

#include "sim/modbus/crc.hpp"

namespace emberline::bench {
namespace {

// A general-purpose system delivers the bytes of one frame with gaps of milliseconds between them.
constexpr Duration kSystemGap = std::chrono::milliseconds{50};

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

}  // namespace

LineSession::LineSession(Bench& bench, std::size_t line, std::string master, Options options)
    : bench_(bench), line_(line), master_(std::move(master)) {
  const LineSpec& spec = bench.spec().lines.at(line);
  t3_5_ = t3_5(spec.serial);
  if (carries_rtu(spec.kind)) {
    rtu_.emplace(timing_of(spec, options.strict));
  } else {
    mbap_.emplace();
  }
}

void LineSession::receive(modbus::ByteView bytes, SimTime at) {
  if (bench_.line_cut(line_)) {
    swallowed_ += bytes.size();
    return;
  }
  if (rtu_) {
    rtu_->receive(bytes, at);
  } else {
    mbap_->receive(bytes);
  }
}

std::optional<SimTime> LineSession::wake_at() const { return rtu_ ? rtu_->wake_at() : std::nullopt; }

std::vector<LineSession::Outgoing> LineSession::poll(SimTime now) {
  std::vector<Outgoing> answers;
  if (rtu_) {
    take_up_rtu(now, answers);
  } else {
    take_up_mbap(now, answers);
  }
  return answers;
}

void LineSession::take_up_rtu(SimTime now, std::vector<Outgoing>& answers) {
  while (const auto outcome = rtu_->poll(now)) {
    const auto* request = std::get_if<modbus::RtuRequest>(&*outcome);
    if (request == nullptr) {
      ++faults_;
      continue;
    }
    ++requests_;
    const Bench::Reply reply = bench_.request(line_, request->address, request->pdu, now, master_);
    if (!reply.pdu || request->address == 0 || bench_.line_cut(line_)) {
      continue;
    }
    Outgoing answer;
    answer.bytes = modbus::rtu_frame(request->address, *reply.pdu);
    const SimTime free = std::max(request->last_byte, busy_until_);
    const SimTime through =
        free + t3_5_ + characters_time(bench_.spec().lines[line_].serial, answer.bytes.size());
    busy_until_ = answer.due = std::max(through, now);
    answers.push_back(std::move(answer));
  }
}

void LineSession::take_up_mbap(SimTime now, std::vector<Outgoing>& answers) {
  while (const auto outcome = mbap_->poll()) {
    const auto* request = std::get_if<modbus::MbapRequest>(&*outcome);
    if (request == nullptr) {
      ++faults_;
      continue;
    }
    ++requests_;
    const Bench::Reply reply = bench_.request(line_, request->unit, request->pdu, now, master_);
    if (reply.pdu && !bench_.line_cut(line_)) {
      answers.push_back({now, modbus::mbap_frame(request->transaction, request->unit, *reply.pdu)});
    }
  }
}

bool LineSession::lost() const { return mbap_ && mbap_->lost(); }

void LineSession::reset() {
  if (rtu_) {
    rtu_->reset();
  }
}

}  // namespace emberline::bench
