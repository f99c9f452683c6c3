#include <algorithm>
#include <deque>
#include <optional>
#include <utility>

#include <boost/asio/posix/stream_descriptor.hpp>
#include <boost/asio/steady_timer.hpp>

#include "sim/bench/line_session.hpp"
#include "sim/io/line/alarm.hpp"
#include "sim/io/line/echo_watch.hpp"
#include "sim/io/line/first_request.hpp"
#include "sim/io/line/line.hpp"
#include "sim/io/line/own_echo.hpp"
#include "sim/io/line/pump.hpp"
#include "sim/io/line/serial_device.hpp"
#include "sim/io/line/waiting.hpp"

namespace emberline::io {
namespace {

using bench::LineSession;
using boost::asio::posix::stream_descriptor;

constexpr std::size_t kMostAtOnce = 4096;
// An adapter that is gone is looked for often at first, then every other second.
constexpr auto kLookFirst = std::chrono::milliseconds{100};
constexpr auto kLookLast = std::chrono::milliseconds{2000};
// A USB adapter hands over what it heard in lots, tens of milliseconds late.
constexpr auto kEchoLag = std::chrono::milliseconds{100};

SerialDevice::Options options_of(const bench::LineSpec& spec) { return {spec.serial, spec.rs485}; }

/// The tty of an adapter, with a PLC at the other end of the wire and maybe real slaves beside ours. An
/// adapter that is unplugged is waited for; that is no cut, the line's state does not show it.
class SerialPortLine final : public Line {
 public:
  SerialPortLine(Pump& pump, bench::Bench& bench, std::size_t index, std::unique_ptr<SerialDevice> device)
      : pump_(pump),
        bench_(bench),
        index_(index),
        spec_(bench.spec().lines.at(index)),
        session_(bench, index, "the master on " + spec_.name, {.strict = spec_.strict_timing}),
        first_(bench.spec(), index),
        bytes_(pump.context()),
        alarm_(pump),
        look_again_(pump.context()) {
    take(std::move(device));
  }
  ~SerialPortLine() override { let_go(); }

  [[nodiscard]] OpenLine where() const override { return {spec_.name, spec_.kind, spec_.path, "", 0}; }
  void start() override {
    note_what_is_not_kept();
    wait_for_bytes();
  }
  void follow(const Conditions& now) override {
    no_answers_ = !now.to_masters;
    if (no_answers_) {
      waiting_.clear();
    }
  }
  void close() override { let_go(); }
  [[nodiscard]] WallBench::Statistics statistics() const override {
    WallBench::Statistics sum = counted(session_.counters());
    sum.connections = visits_;
    return sum;
  }

 private:
  void let_go();
  void take(std::unique_ptr<SerialDevice> device);
  void put_away();
  void note(std::string sentence);
  void note_what_is_not_kept();
  void wait_for_bytes();
  void receive();
  [[nodiscard]] modbus::Bytes without_echo(modbus::ByteView bytes);
  void overrun();
  [[nodiscard]] bool full() const { return waiting_.size() + session_.held_up() >= kMostAnswersWaiting; }
  void take_up(modbus::ByteView bytes);
  void unplugged();
  void look_later();
  void look_for_it();
  [[nodiscard]] SimTime leaves_at(const LineSession::Outgoing& piece) const;
  void send_due(SimTime at);
  void arm();

  Pump& pump_;
  bench::Bench& bench_;
  std::size_t index_;
  const bench::LineSpec& spec_;
  LineSession session_;
  FirstRequest first_;
  std::unique_ptr<SerialDevice> device_;  // null while the adapter is unplugged
  stream_descriptor bytes_;
  Alarm alarm_;
  boost::asio::steady_timer look_again_;
  std::chrono::milliseconds look_after_ = kLookFirst;
  std::string why_not_;                            // what has been said of an adapter that cannot be used
  Waiting waiting_;                                // to be written
  std::deque<LineSession::Outgoing> on_the_wire_;  // written, last byte not yet through
  OwnEcho echo_;                                   // where it hears itself
  EchoWatch unheard_;                              // where it is said not to
  bool echo_noted_ = false;
  bool overrun_noted_ = false;
  bool no_answers_ = false;  // the way to the masters is broken
  bool closed_ = false;
  bool visited_ = false;
  std::uint64_t visits_ = 0;
};

// --- the adapter

void SerialPortLine::take(std::unique_ptr<SerialDevice> device) {
  device_ = std::move(device);
  bytes_.assign(device_->descriptor());
  session_.comes_at_once(!device_->takes_time());
  visited_ = false;
  unheard_ = {};  // it may be another one
}

void SerialPortLine::put_away() {
  if (device_) {
    bytes_.release();  // the device closes it
    device_.reset();
  }
}

void SerialPortLine::let_go() {
  if (std::exchange(closed_, true)) {
    return;
  }
  alarm_.cancel();
  look_again_.cancel();
  put_away();
  session_.end(pump_.now());
}

void SerialPortLine::note(std::string sentence) {
  pump_.at_now([&](SimTime at) { bench_.journal().note(at, spec_.name, std::move(sentence)); });
}

void SerialPortLine::note_what_is_not_kept() {
  if (device_ && !device_->not_kept().empty()) {
    note("the driver of " + spec_.path + " does not keep " + device_->not_kept() + ", the line is set to " +
         to_text(spec_.serial));
  }
}

void SerialPortLine::unplugged() {
  put_away();
  waiting_.clear();
  on_the_wire_.clear();
  session_.reset();
  note("adapter unplugged: " + spec_.path + " is gone; waiting for it");
  why_not_.clear();
  look_after_ = kLookFirst;
  look_later();
}

void SerialPortLine::look_later() {
  look_again_.expires_after(look_after_);
  look_again_.async_wait([this](const boost::system::error_code& cancelled) {
    if (!cancelled && !closed_) {
      look_for_it();
    }
  });
  look_after_ = std::min(2 * look_after_, kLookLast);
}

void SerialPortLine::look_for_it() {
  auto device = SerialDevice::open(spec_.path, options_of(spec_));
  if (!device) {
    const auto& problem = device.error();
    if (!problem.missing && problem.sentence != why_not_) {
      why_not_ = problem.sentence;
      note(problem.sentence + "; tried again until it can be used");
    }
    look_later();
    return;
  }
  take(std::move(device).value());
  note("adapter plugged in again: " + spec_.path + " answers");
  note_what_is_not_kept();
  wait_for_bytes();
}

// --- bytes

void SerialPortLine::wait_for_bytes() {
  if (!device_ || closed_) {
    return;
  }
  bytes_.async_wait(stream_descriptor::wait_read, [this](const boost::system::error_code& error) {
    if (error || closed_) {
      return;
    }
    receive();
    wait_for_bytes();
  });
}

void SerialPortLine::receive() {
  if (!device_) {
    return;
  }
  const auto bytes = device_->read(kMostAtOnce);
  if (!bytes) {
    unplugged();
    return;
  }
  if (bytes->empty()) {
    return;
  }
  visits_ += std::exchange(visited_, true) ? 0 : 1;
  if (pump_.held()) {
    if (const auto first = first_.in(*bytes, pump_.waited())) {
      pump_.release();
      take_up(*first);
    }
    return;
  }
  if (full() && !session_.within_frame()) {
    overrun();
    return;
  }
  take_up(without_echo(*bytes));
}

// As a slave's port that is not read in time: what comes then is lost.
void SerialPortLine::overrun() {
  pump_.at_now([&](SimTime at) {
    bench_.heard(index_, modbus::Heard::overrun);
    if (!std::exchange(overrun_noted_, true)) {
      bench_.journal().note(at, spec_.name, kOverrun);
    }
  });
}

modbus::Bytes SerialPortLine::without_echo(modbus::ByteView bytes) {
  if (spec_.hears_itself) {
    return echo_.left_of(bytes, pump_.now());
  }
  auto heard = unheard_.heard(bytes, pump_.now());
  if (heard.came_back && !std::exchange(echo_noted_, true)) {
    note(
        "an answer of ours came back and was thrown away: the adapter hears itself; expected hears_itself: "
        "on "
        "(said once)");
  }
  return std::move(heard.left);
}

/// Hands bytes to the session, if any, and sends what is due.
void SerialPortLine::take_up(modbus::ByteView bytes) {
  SimTime now{};
  const auto before = session_.requests();
  pump_.at_now([&](SimTime at) {
    now = at;
    if (!bytes.empty()) {
      session_.receive(bytes, at);
    }
    auto answers = session_.poll(at);
    for (auto& answer : answers) {
      if (!no_answers_) {
        wait_for_its_time(waiting_, std::move(answer));
      }
    }
  });
  if (session_.requests() != before) {
    unheard_.good_request();
  }
  send_due(now);
}

// A real port takes its time for the bytes itself.
SimTime SerialPortLine::leaves_at(const LineSession::Outgoing& piece) const {
  if (!device_ || !device_->takes_time() || !spec_.paced) {
    return piece.due;
  }
  return piece.due - characters_time(spec_.serial, piece.bytes.size());
}

void SerialPortLine::send_due(SimTime at) {
  while (device_ && !waiting_.empty() && leaves_at(waiting_.front()) <= at) {
    LineSession::Outgoing piece = std::move(waiting_.front());
    waiting_.pop_front();
    const SimTime through = std::max(piece.due, at);
    if (spec_.hears_itself) {
      echo_.expect(piece.bytes, through + kEchoLag);
    } else {
      unheard_.expect(piece.bytes, through + kEchoLag);
    }
    if (!device_->write(piece.bytes)) {
      unplugged();
      return;
    }
    piece.due = through;
    on_the_wire_.push_back(std::move(piece));
  }
  while (!on_the_wire_.empty() && on_the_wire_.front().due <= at) {
    session_.sent(on_the_wire_.front(), at);
    on_the_wire_.pop_front();
  }
  arm();
}

void SerialPortLine::arm() {
  if (closed_) {
    return;
  }
  auto next = session_.wake_at();
  const auto sooner = [&next](SimTime at) { next = next ? std::min(*next, at) : at; };
  if (device_ && !waiting_.empty()) {
    sooner(leaves_at(waiting_.front()));
  }
  if (!on_the_wire_.empty()) {
    sooner(on_the_wire_.front().due);
  }
  if (const auto gives_up = unheard_.gives_up_at()) {
    sooner(*gives_up);
  }
  alarm_.set(next, [this] { take_up(unheard_.given_up(pump_.now())); });
}

}  // namespace

Result<std::unique_ptr<Line>, std::string> open_serial_port_line(Pump& pump, bench::Bench& bench,
                                                                 std::size_t index) {
  const bench::LineSpec& spec = bench.spec().lines.at(index);
  auto device = SerialDevice::open(spec.path, options_of(spec));
  if (!device) {
    return Failure{device.error().sentence};
  }
  return std::unique_ptr<Line>(
      std::make_unique<SerialPortLine>(pump, bench, index, std::move(device).value()));
}

}  // namespace emberline::io
