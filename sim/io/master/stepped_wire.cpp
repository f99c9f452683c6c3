#include "sim/io/master/stepped_wire.hpp"

#include <algorithm>
#include <utility>

namespace emberline::io {

namespace {

constexpr Duration kTcpWay = std::chrono::microseconds{200};

}  // namespace

// --- a stand-in's end --------------------------------------------------------------------------------------

StandInEnd::StandInEnd(bench::Bench& bench, std::size_t line, std::string master, std::size_t place,
                       Duration answer_within, std::optional<SerialFormat> serial)
    : order(place), timeout(answer_within), bench_(bench), line_(line), master_(std::move(master)) {
  const bench::LineSpec& spec = bench.spec().lines.at(line);
  const bool wire = bench::carries_rtu(spec.kind) && !bench::over_tcp(spec.kind);
  if (wire && serial && *serial != spec.serial) foreign = serial;
  open();
}

void StandInEnd::open() {
  session = std::make_unique<bench::LineSession>(
      bench_, line_, master_, bench::LineSession::Options{.strict = bench_.spec().lines[line_].paced});
}

void StandInEnd::renew(SimTime now) {
  session->end(now);
  open();
}

// --- the wire ----------------------------------------------------------------------------------------------

SteppedWire::SteppedWire(bench::Bench& bench, std::size_t line)
    : bench_(bench),
      line_(line),
      rtu_(bench::carries_rtu(bench.spec().lines.at(line).kind)),
      tcp_(bench::over_tcp(bench.spec().lines.at(line).kind)),
      paced_(bench.spec().lines.at(line).paced),
      serial_(bench.spec().lines.at(line).serial) {}

Duration SteppedWire::travel(std::size_t characters) const {
  if (!rtu_) return kTcpWay;
  return paced_ ? characters_time(serial_, characters) : Duration::zero();
}

Duration SteppedWire::travel(std::size_t characters, const StandInEnd& from) const {
  return from.foreign && paced_ ? characters_time(*from.foreign, characters) : travel(characters);
}

void SteppedWire::send(StandInEnd& from, modbus::Bytes request, SimTime now) {
  from.asked_at = SimTime::max();
  from.deadline.reset();
  if (holder_ != nullptr) {
    queue_.push_back({&from, std::move(request)});
  } else {
    begin({&from, std::move(request)}, now);
  }
}

void SteppedWire::begin(Waiting request, SimTime now) {
  StandInEnd& from = *request.end;
  const SimTime start = std::max(now, free_from_);
  holder_ = &from;
  finished_ = request.unheeded;
  if (tcp_ && !connect(from, now)) {
    if (!request.unheeded) from.deadline = now + 2 * kTcpWay;  // the refusal comes back
    return;
  }
  const SimTime arrival = start + travel(request.request.size(), from);
  if (!request.unheeded) {
    from.deadline = start + from.timeout;
    from.asked_at = arrival;
  }
  sending_ = Sending{&from, start, arrival, std::move(request.request)};
}

/// False if the connection is refused.
bool SteppedWire::connect(StandInEnd& end, SimTime now) const {
  if (end.connected) return true;
  const bench::TcpConduct& conduct = bench_.lines().conduct(line_);
  if (conduct.refuses) return false;
  end.connected = true;
  end.connected_at = now;
  end.resets = conduct.resets;
  return true;
}

std::optional<SteppedWire::Step> SteppedWire::next_step() const {
  std::optional<Step> first;
  const auto consider = [&first](SimTime at, StandInEnd* end, Step::Kind kind) {
    if (!first || at < first->at || (at == first->at && end->order < first->end->order))
      first = Step{at, end, kind};
  };
  if (tcp_) {
    const bench::TcpConduct& conduct = bench_.lines().conduct(line_);
    for (StandInEnd* end : ends_)
      if (end->connected && end->resets != conduct.resets) consider(conduct.reset_at, end, Step::Kind::reset);
  }
  if (sending_) consider(sending_->due, sending_->end, Step::Kind::arrival);
  for (StandInEnd* end : ends_)
    if (const auto wake = end->session->wake_at()) consider(*wake, end, Step::Kind::wake);
  if (!travelling_.empty()) consider(travelling_.front().due, travelling_.front().end, Step::Kind::delivery);
  return first;
}

std::optional<SimTime> SteppedWire::next() const {
  const auto step = next_step();
  return step ? std::optional(step->at) : std::nullopt;
}

std::size_t SteppedWire::order() const {
  const auto step = next_step();
  return step ? step->end->order : 0;
}

std::optional<SteppedWire::Delivery> SteppedWire::step(SimTime now) {
  const auto step = next_step();
  if (!step) return std::nullopt;
  std::optional<Delivery> delivery;
  switch (step->kind) {
    case Step::Kind::reset:
      drop_connection(*step->end, now);
      if (step->end->deadline) step->end->deadline = now;
      break;
    case Step::Kind::arrival:
      arrive(now);
      break;
    case Step::Kind::wake:
      collect(*step->end, now);
      break;
    case Step::Kind::delivery: {
      Travelling arrived = std::move(travelling_.front());
      travelling_.erase(travelling_.begin());
      if (rtu_) free_from_ = now + (paced_ ? t3_5(serial_) : Duration::zero());
      if (bench_.lines().passes(line_, bench::Way::to_masters)) {
        arrived.end->session->sent(arrived.piece, now);
        delivery = {arrived.end, std::move(arrived.piece.bytes), arrived.piece.asked_at};
      }
      break;
    }
  }
  release_if_free(now);
  return delivery;
}

/// The request's last byte is with the units.
void SteppedWire::arrive(SimTime now) {
  Sending sent = std::move(*sending_);
  sending_.reset();
  // Characters of another format come as characters with a framing error, which stand for nothing. Zeros are
  // what a receiver shows for them often, and no run of zeros is a frame: from FFFFh, a CRC never gets to 0
  // by them.
  if (sent.end->foreign) std::fill(sent.request.begin(), sent.request.end(), std::uint8_t{0});
  if (tcp_) {
    const bench::TcpConduct& conduct = bench_.lines().conduct(line_);
    const bool dead = conduct.half_open_since && sent.end->connected_at < *conduct.half_open_since;
    if (conduct.silent || dead) return;  // nobody reads it
  }
  sent.end->session->receive(sent.request, now);
  collect(*sent.end, now);
}

/// The units take up what they have heard; answers set out.
void SteppedWire::collect(StandInEnd& end, SimTime now) {
  for (auto& piece : end.session->poll(now)) {
    const SimTime due = rtu_ ? piece.due : piece.due + kTcpWay;
    const auto behind = std::find_if(travelling_.begin(), travelling_.end(),
                                     [due](const auto& other) { return other.due > due; });
    travelling_.insert(behind, {&end, due, std::move(piece)});
  }
}

void SteppedWire::done(StandInEnd& end, SimTime now) {
  end.deadline.reset();
  if (holder_ == &end && !finished_) {
    finished_ = true;
    release_if_free(now);
    return;
  }
  // It took something older for its answer while its request was still waiting for the wire.
  const auto waiting = std::find_if(queue_.begin(), queue_.end(), [&](const Waiting& request) {
    return request.end == &end && !request.unheeded;
  });
  if (waiting != queue_.end()) waiting->unheeded = true;
}

void SteppedWire::give_up(StandInEnd& end, SimTime now) {
  if (tcp_) drop_connection(end, now);
  done(end, now);
}

void SteppedWire::reconnect(StandInEnd& end, SimTime now) {
  if (!tcp_) return;
  drop_connection(end, now);
  release_if_free(now);  // its request may have been on its way still
}

void SteppedWire::lost_power(StandInEnd& end, SimTime now) {
  std::erase_if(queue_, [&](const Waiting& request) { return request.end == &end; });
  if (sending_ && sending_->end == &end) {
    const double sent = sending_->begun < now
                            ? (now - sending_->begun) /
                                  std::chrono::duration<double, std::nano>(sending_->due - sending_->begun)
                            : 0.0;
    const auto bytes = static_cast<std::size_t>(sent * static_cast<double>(sending_->request.size()));
    if (bytes == 0) {
      sending_.reset();
    } else if (bytes < sending_->request.size()) {
      sending_->request.resize(bytes);
      sending_->due = now;
    }
  }
  reconnect(end, now);
  release_if_free(now);
}

void SteppedWire::drop_connection(StandInEnd& end, SimTime now) {
  if (sending_ && sending_->end == &end) sending_.reset();
  std::erase_if(travelling_, [&](const Travelling& one) { return one.end == &end; });
  if (end.connected) end.renew(now);
  end.connected = false;
}

/// True while something of the holder's exchange is on the wire, or about to be.
bool SteppedWire::in_use(SimTime now) const {
  if (sending_) return true;
  if (!rtu_) return false;
  const Duration soon = t3_5(serial_);
  const auto wake = holder_->session->wake_at();
  if (wake && *wake <= now + soon) return true;
  return std::any_of(travelling_.begin(), travelling_.end(), [&](const Travelling& one) {
    return one.due - travel(one.piece.bytes.size()) <= now + soon;
  });
}

void SteppedWire::release_if_free(SimTime now) {
  while (holder_ != nullptr && finished_ && !in_use(now)) {
    holder_ = nullptr;
    if (queue_.empty()) return;
    Waiting first = std::move(queue_.front());
    queue_.pop_front();
    begin(std::move(first), now);
  }
}

void SteppedWire::clear(SimTime now) {
  for (StandInEnd* end : ends_) end->session->end(now);
  sending_.reset();
  travelling_.clear();
  queue_.clear();
  holder_ = nullptr;
  ends_.clear();
}

}  // namespace emberline::io
