#include "sim/io/master/stepped_stand_in.hpp"

#include <algorithm>
#include <array>
#include <cerrno>
#include <chrono>
#include <utility>

#include <sys/eventfd.h>
#include <sys/socket.h>
#include <unistd.h>

#include "sim/io/master/answer_length.hpp"

namespace emberline::io {

namespace {

// The time-out that counts is the simulated one; libmodbus's own must never come first.
constexpr Duration kLibraryTimeout = std::chrono::hours{24 * 365};

constexpr std::size_t kMbapHeader = 7;

/// The length of a request frame that begins with `bytes`, as far as it can be told yet; 0: not yet.
std::size_t request_length(const modbus::Bytes& bytes, bool rtu) {
  if (!rtu) {
    if (bytes.size() < kMbapHeader) return 0;
    return kMbapHeader - 1 + static_cast<std::size_t>(bytes[4] << 8 | bytes[5]);
  }
  if (bytes.size() < 2) return 0;
  const bool several = bytes[1] == 0x0F || bytes[1] == 0x10;
  if (!several) return 8;  // unit id, function code, two 16-bit fields, CRC
  return bytes.size() < 7 ? 0 : 9u + bytes[6];
}

ModbusContext make_context(bool rtu) {
  // Names that are never opened: libmodbus is handed a socket.
  ModbusContext context{rtu ? modbus_new_rtu("stand-in", 19200, 'E', 8, 1)
                            : modbus_new_tcp("127.0.0.1", 1502)};
  if (context) set_answer_timeout(context.get(), kLibraryTimeout);
  return context;
}

}  // namespace

Baton::Baton(bench::Journal& to) : doorbell(::eventfd(0, EFD_CLOEXEC)), journal(to) {}

SteppedStandIn::Channel::Channel(bench::Bench& bench, std::size_t index, const rehearsal::MasterSpec& master,
                                 std::size_t place, SteppedWire& carrier)
    : line(bench.spec().lines[index].name),
      rtu(bench::carries_rtu(bench.spec().lines[index].kind)),
      wire(carrier),
      end(bench, index, master.name, place, master.timeout, master.serial),
      context(make_context(rtu)) {
  SocketPair pair = make_socket_pair();
  ours = std::move(pair.ours);
  next = std::move(pair.theirs);
  wire.attach(end);
}

std::size_t SteppedStandIn::Channel::readable() const {
  modbus::Bytes bytes;
  for (const auto& piece : arrived) bytes.insert(bytes.end(), piece.bytes.begin(), piece.bytes.end());
  const std::size_t length = answer_length(bytes, rtu);
  return length <= bytes.size() ? length : 0;
}

modbus::Bytes SteppedStandIn::Channel::take(std::size_t count) {
  modbus::Bytes taken;
  while (taken.size() < count) {
    modbus::Bytes& front = arrived.front().bytes;
    const auto part = static_cast<std::ptrdiff_t>(std::min(count - taken.size(), front.size()));
    taken.insert(taken.end(), front.begin(), front.begin() + part);
    front.erase(front.begin(), front.begin() + part);
    if (front.empty()) arrived.pop_front();
  }
  return taken;
}

SteppedStandIn::SteppedStandIn(const rehearsal::MasterSpec& spec, bench::Bench& bench, std::size_t order,
                               Baton& baton, const std::function<SteppedWire&(std::size_t line)>& wire_of)
    : spec_(spec), baton_(baton) {
  for (const std::string& line : spec.lines) {
    const auto index = bench.spec().find_line(line);
    if (!index) continue;
    channels_.emplace_back(bench, *index, spec, order, wire_of(*index));
    if (!channels_.back().ours.open() || !baton_.doorbell.open() || !channels_.back().context) {
      note("the system gives no socket for line " + line + ": nothing goes over it");
    }
  }
  watched_.resize(channels_.size() + 1, pollfd{-1, POLLIN, 0});
  watched_.front().fd = baton_.doorbell.number();
}

void SteppedStandIn::start() {
  thread_ = std::thread([this] { thread_main(); });
}

// --- the stand-in's thread ---------------------------------------------------------------------------------

void SteppedStandIn::thread_main() {
  wake_.acquire();
  baton_.take();
  if (!over()) rehearsal::play(spec_, *this);
  phase_ = Phase::finished;
  baton_.give();
  ::eventfd_write(baton_.doorbell.number(), 1);
}

bool SteppedStandIn::sleep_until(SimTime at) {
  if (over()) return false;
  if (at <= baton_.now) return true;
  phase_ = Phase::sleeping;
  wake_at_ = at;
  baton_.give();
  ::eventfd_write(baton_.doorbell.number(), 1);
  wake_.acquire();
  baton_.take();
  return !over();
}

SteppedStandIn::Channel* SteppedStandIn::channel_of(const std::string& line) {
  for (Channel& channel : channels_) {
    if (channel.line == line) return &channel;
  }
  return nullptr;
}

template <class T, class Call>
Result<T, rehearsal::MasterLink::Failure> SteppedStandIn::request(const std::string& line, Call&& call) {
  Channel* channel = channel_of(line);
  if (over() || channel == nullptr || !channel->ours.open() || !channel->context) {
    return emberline::Failure{Failure{}};
  }
  // What came while it had no power, or had not asked anything yet, is nothing to it.
  if (std::exchange(begins_anew_, false))
    for (Channel& each : channels_) each.arrived.clear();
  if (channel->next.open()) {
    modbus_set_socket(channel->context.get(), channel->next.number());
    channel->theirs = std::exchange(channel->next, FileDescriptor{});
  }
  baton_.give();  // libmodbus writes the request, and the scheduler goes on from there
  auto result = call(channel->context.get());
  baton_.take();
  if (channel->mistaken && (result || result.error().refusal)) explain_mistake(*channel);
  if (result) return std::move(result).value();
  if (!result.error().refusal) forget_rest(*channel);
  return emberline::Failure{Failure{result.error().refusal}};
}

/// After a frame it could make nothing of, a master starts afresh: on a serial line it waits until its time
/// is over and throws away what has come, as libmodbus's own recovery does; on TCP it connects anew. Without
/// the waiting the proper answer would come after the clearing and spoil the next request, and so on for
/// ever.
void SteppedStandIn::forget_rest(Channel& channel) {
  if (channel.rtu) (void)sleep_until(fails_at_ ? std::min(channel.patience, *fails_at_) : channel.patience);
  channel.arrived.clear();
  channel.wire.reconnect(channel.end, baton_.now);
}

void SteppedStandIn::explain_mistake(Channel& channel) {
  ++mistaken_;
  if (std::exchange(channel.explained, true)) return;
  note("took a late answer to an earlier request on " + channel.line +
       " for the answer to the next one: an RTU answer carries unit id, function and length, but not which "
       "question it belongs to");
}

Result<std::vector<std::uint16_t>, rehearsal::MasterLink::Failure> SteppedStandIn::read_registers(
    const std::string& line, int id, modbus::Table table, modbus::AddressRange range) {
  return request<std::vector<std::uint16_t>>(
      line, [&](modbus_t* context) { return io::read_registers(context, id, table, range); });
}

Result<std::vector<bool>, rehearsal::MasterLink::Failure> SteppedStandIn::read_bits(
    const std::string& line, int id, modbus::Table table, modbus::AddressRange range) {
  return request<std::vector<bool>>(
      line, [&](modbus_t* context) { return io::read_bits(context, id, table, range); });
}

Result<Done, rehearsal::MasterLink::Failure> SteppedStandIn::write_registers(
    const std::string& line, int id, std::uint16_t first, const std::vector<std::uint16_t>& values) {
  return request<Done>(line,
                       [&](modbus_t* context) { return io::write_registers(context, id, first, values); });
}

Result<Done, rehearsal::MasterLink::Failure> SteppedStandIn::write_bits(const std::string& line, int id,
                                                                        std::uint16_t first,
                                                                        const std::vector<bool>& values) {
  return request<Done>(line, [&](modbus_t* context) { return io::write_bits(context, id, first, values); });
}

void SteppedStandIn::note(std::string sentence) {
  baton_.journal.note(baton_.now, spec_.name, std::move(sentence));
}

void SteppedStandIn::lost_power() {
  for (Channel& channel : channels_) channel.wire.lost_power(channel.end, baton_.now);
  begins_anew_ = true;
}

// --- the scheduler's side ----------------------------------------------------------------------------------

std::optional<SimTime> SteppedStandIn::due() const {
  switch (phase_) {
    case Phase::sleeping:
      return wake_at_;
    case Phase::waiting:
      if (asking_->readable() > 0) return baton_.now;  // something older lies there already
      if (fails_at_ && (!asking_->end.deadline || *fails_at_ < *asking_->end.deadline)) return fails_at_;
      return asking_->end.deadline;
    case Phase::running:
    case Phase::finished:
      break;
  }
  return std::nullopt;
}

void SteppedStandIn::run() {
  if (phase_ == Phase::waiting) {
    asking_->readable() > 0 ? go_on() : time_out();
    return;
  }
  phase_ = Phase::running;
  baton_.give();
  wake_.release();
  hand_over();
}

/// The time is up, or the power fails. libmodbus sees its connection end; a fresh one is there for the next
/// request.
void SteppedStandIn::time_out() {
  asking_->wire.give_up(asking_->end, baton_.now);
  SocketPair fresh = make_socket_pair();
  FileDescriptor old = std::exchange(asking_->ours, std::move(fresh.ours));
  asking_->next = std::move(fresh.theirs);
  asking_->inbox.clear();
  asking_->arrived.clear();  // part of an answer at most, and libmodbus would have read it
  asking_->mistaken = false;
  asking_->patience = baton_.now;
  phase_ = Phase::running;
  baton_.give();
  old.close();
  hand_over();
}

bool SteppedStandIn::deliver(const SteppedWire::Delivery& answer) {
  const auto channel = std::find_if(channels_.begin(), channels_.end(),
                                    [&](const Channel& one) { return &one.end == answer.to; });
  if (channel == channels_.end()) return false;
  channel->arrived.push_back(answer);
  if (phase_ == Phase::waiting && asking_ == &*channel && channel->readable() > 0) go_on();
  return true;
}

/// libmodbus gets what it will read as one answer, no more: it would wait for the rest of a shorter one.
void SteppedStandIn::go_on() {
  Channel& channel = *asking_;
  channel.mistaken = channel.arrived.front().asked_at < channel.end.asked_at;
  channel.patience = channel.end.deadline.value_or(baton_.now + channel.end.timeout);
  const modbus::Bytes answer = channel.take(channel.readable());
  channel.wire.done(channel.end, baton_.now);
  phase_ = Phase::running;
  const int socket = channel.ours.number();
  baton_.give();
  // An answer is at most 260 bytes: it always goes in whole.
  (void)::send(socket, answer.data(), answer.size(), MSG_NOSIGNAL);
  hand_over();
}

/// Waits until the stand-in has sent a whole request, sleeps or is finished.
void SteppedStandIn::hand_over() {
  for (std::size_t i = 0; i < channels_.size(); ++i) watched_[i + 1].fd = channels_[i].ours.number();
  for (;;) {
    if (::poll(watched_.data(), watched_.size(), -1) < 0) continue;  // interrupted by a signal
    if ((watched_.front().revents & POLLIN) != 0) {
      eventfd_t rings = 0;
      ::eventfd_read(baton_.doorbell.number(), &rings);
      baton_.take();
      return;
    }
    for (std::size_t i = 0; i < channels_.size(); ++i) {
      if (watched_[i + 1].revents != 0 && take_request(channels_[i])) return;
    }
  }
}

bool SteppedStandIn::take_request(Channel& channel) {
  std::array<std::uint8_t, 512> bytes;
  const ssize_t got = ::recv(channel.ours.number(), bytes.data(), bytes.size(), MSG_DONTWAIT);
  if (got <= 0) return false;
  channel.inbox.insert(channel.inbox.end(), bytes.begin(), bytes.begin() + got);
  const std::size_t length = request_length(channel.inbox, channel.rtu);
  if (length == 0 || channel.inbox.size() < length) return false;
  baton_.take();
  ++transactions_;
  phase_ = Phase::waiting;
  asking_ = &channel;
  channel.wire.send(channel.end, std::exchange(channel.inbox, {}), baton_.now);
  return true;
}

void SteppedStandIn::end() {
  if (!thread_.joinable()) return;
  const Phase phase = phase_;  // from the hand-over on it is the stand-in's
  baton_.give();
  if (phase == Phase::sleeping) wake_.release();
  if (phase == Phase::waiting) asking_->ours.close();
  thread_.join();
  baton_.take();
}

}  // namespace emberline::io
