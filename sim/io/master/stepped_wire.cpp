#include "sim/io/master/stepped_wire.hpp"

#include <algorithm>
#include <utility>

namespace emberline::io {

namespace {

constexpr Duration kTcpWay = std::chrono::microseconds{200};

}  // namespace

SteppedWire::SteppedWire(bench::Bench& bench, std::size_t line)
    : bench_(bench),
      line_(line),
      rtu_(bench::carries_rtu(bench.spec().lines.at(line).kind)),
      serial_(bench.spec().lines.at(line).serial) {}

Duration SteppedWire::travel(std::size_t characters) const {
  return rtu_ ? characters_time(serial_, characters) : kTcpWay;
}

void SteppedWire::send(WireEnd& from, modbus::Bytes request, SimTime now) {
  if (current_) {
    queue_.push_back({&from, std::move(request)});
  } else {
    begin(from, std::move(request), now);
  }
}

void SteppedWire::begin(WireEnd& from, modbus::Bytes request, SimTime now) {
  const SimTime start = std::max(now, free_from_);
  const SimTime arrival = start + travel(request.size());
  from.deadline = start + from.timeout;
  current_ = Transaction{&from, Stage::request, arrival, std::move(request)};
}

std::optional<SimTime> SteppedWire::next() const {
  if (!current_ || current_->stage == Stage::unanswered) return std::nullopt;
  return current_->due;
}

std::optional<SteppedWire::Delivery> SteppedWire::step(SimTime now) {
  switch (current_->stage) {
    case Stage::request:
      arrive(now);
      return std::nullopt;
    case Stage::silence:
      take_up(now);
      return std::nullopt;
    case Stage::unanswered:
      return std::nullopt;
    case Stage::answer:
      break;
  }
  if (bench_.line_cut(line_)) {
    leave_unanswered(now);
    return std::nullopt;
  }
  if (current_->abandoned) {
    ++late_answers_;
    release(now, t3_5(serial_));
    return std::nullopt;
  }
  Delivery delivery{current_->end, std::move(current_->frame)};
  delivery.to->deadline.reset();
  release(now, rtu_ ? t3_5(serial_) : Duration::zero());
  return delivery;
}

/// The request's last byte is at the slave.
void SteppedWire::arrive(SimTime now) {
  bench::LineSession& session = current_->end->session;
  session.receive(current_->frame, now);
  if (const auto wake = session.wake_at(); wake && *wake > now) {
    current_->stage = Stage::silence;
    current_->due = *wake;
    return;
  }
  take_up(now);
}

/// The slave takes up what it has heard.
void SteppedWire::take_up(SimTime now) {
  auto answers = current_->end->session.poll(now);
  if (answers.empty()) {
    leave_unanswered(now);
    return;
  }
  current_->stage = Stage::answer;
  current_->due = rtu_ ? answers.front().due : answers.front().due + kTcpWay;
  current_->frame = std::move(answers.front().bytes);
}

void SteppedWire::leave_unanswered(SimTime now) {
  if (current_->abandoned) {
    release(now, Duration::zero());
  } else {
    current_->stage = Stage::unanswered;  // the sender holds the wire until its time-out
  }
}

void SteppedWire::give_up(WireEnd& end, SimTime now) {
  end.deadline.reset();
  if (!current_ || current_->end != &end) return;
  if (!rtu_ || current_->stage == Stage::unanswered) {
    release(now, Duration::zero());
  } else {
    current_->abandoned = true;
  }
}

void SteppedWire::release(SimTime now, Duration pause) {
  current_.reset();
  free_from_ = now + pause;
  if (queue_.empty()) return;
  Waiting first = std::move(queue_.front());
  queue_.pop_front();
  begin(*first.end, std::move(first.request), now);
}

void SteppedWire::clear() {
  current_.reset();
  queue_.clear();
}

}  // namespace emberline::io
