#include <algorithm>
#include <deque>
#include <optional>
#include <utility>

#include <boost/asio/posix/stream_descriptor.hpp>
#include <boost/asio/steady_timer.hpp>

#include "sim/bench/line_session.hpp"
#include "sim/io/line/alarm.hpp"
#include "sim/io/line/first_request.hpp"
#include "sim/io/line/line.hpp"
#include "sim/io/line/pty_device.hpp"
#include "sim/io/line/pump.hpp"
#include "sim/io/line/stable_link.hpp"
#include "sim/io/line/waiting.hpp"

namespace emberline::io {
namespace {

using bench::LineSession;
using boost::asio::posix::stream_descriptor;

constexpr std::size_t kMostAtOnce = 4096;
constexpr auto kShortOfDescriptors = std::chrono::milliseconds{100};

/// Masters on a pseudo-terminal. Their requests are carried out whoever is still there; an answer goes out
/// only if the master that asked cannot have gone since, so that nobody meets an answer to another's
/// question.
class PtyLine final : public Line {
 public:
  PtyLine(Pump& pump, bench::Bench& bench, std::size_t index, std::unique_ptr<PtyDevice> device,
          std::string link)
      : pump_(pump),
        bench_(bench),
        index_(index),
        spec_(bench.spec().lines.at(index)),
        device_(std::move(device)),
        link_(std::move(link)),
        session_(bench, index, "the master on " + spec_.name,
                 {.strict = spec_.strict_timing, .comes_at_once = true}),
        first_(bench.spec(), index),
        bytes_(pump.context(), device_->descriptor()),
        watch_(pump.context()),
        alarm_(pump),
        retry_(pump.context()) {
    if (device_->watch_descriptor() >= 0) {
      watch_.assign(device_->watch_descriptor());
    }
  }
  ~PtyLine() override { let_go(); }

  [[nodiscard]] OpenLine where() const override {
    return {spec_.name, bench::LineKind::pty, link_.empty() ? device_->path() : link_, "", 0};
  }
  void start() override {
    wait_for_bytes();
    wait_for_leaving();
  }
  void follow(const Conditions& now) override;
  void close() override { let_go(); }
  [[nodiscard]] WallBench::Statistics statistics() const override {
    WallBench::Statistics sum = counted(session_.counters());
    sum.connections = visits_;
    return sum;
  }

 private:
  void let_go();
  void wait_for_bytes();
  void wait_for_leaving();
  void look();
  void end_of_visit();
  [[nodiscard]] bool full() const { return waiting_.size() + session_.held_up() >= kMostAnswersWaiting; }
  void overrun(SimTime at);
  void take_up(SimTime at, bool only_last);
  void compare_settings(const PtyDevice::Settings& now, SimTime at);
  [[nodiscard]] bool in_tune(const PtyDevice::Settings& settings) const;
  void send_due(SimTime at);
  void arm();

  Pump& pump_;
  bench::Bench& bench_;
  std::size_t index_;
  const bench::LineSpec& spec_;
  std::unique_ptr<PtyDevice> device_;
  std::string link_;  // empty: none
  LineSession session_;
  FirstRequest first_;
  stream_descriptor bytes_;
  stream_descriptor watch_;
  Alarm alarm_;  // an answer is due, or silence ends a frame
  boost::asio::steady_timer retry_;
  Waiting waiting_;
  PtyDevice::Settings seen_;  // the settings last compared
  bool compared_ = false;
  bool hint_given_ = false;
  bool overrun_noted_ = false;
  bool no_answers_ = false;  // the way to the masters is broken
  bool dead_ = false;        // a stand-in for a TCP line that takes no connections, or is silent on them
  bool closed_ = false;
  bool unclaimed_ = false;  // what has come in last is from a master that is no longer there
  bool visited_ = false;    // the present master has said something
  std::uint64_t visits_ = 0;
};

void PtyLine::let_go() {
  if (std::exchange(closed_, true)) {
    return;
  }
  alarm_.cancel();
  retry_.cancel();
  session_.end(pump_.now());
  bytes_.release();  // the device closes them
  if (watch_.is_open()) {
    watch_.release();
  }
  if (!link_.empty()) {
    remove_link(link_, device_->path());
  }
}

void PtyLine::follow(const Conditions& now) {
  no_answers_ = !now.to_masters;
  dead_ = now.conduct.silent || now.conduct.refuses;
  if (no_answers_ || dead_) {
    waiting_.clear();
  }
}

void PtyLine::wait_for_bytes() {
  bytes_.async_wait(stream_descriptor::wait_read, [this](const boost::system::error_code& error) {
    if (error || closed_) {
      return;
    }
    look();
    if (device_->hold()) {
      wait_for_bytes();
      return;
    }
    retry_.expires_after(kShortOfDescriptors);
    retry_.async_wait([this](const boost::system::error_code& cancelled) {
      if (!cancelled && !closed_) {
        wait_for_bytes();
      }
    });
  });
}

void PtyLine::wait_for_leaving() {
  if (!watch_.is_open()) {
    return;
  }
  watch_.async_wait(stream_descriptor::wait_read, [this](const boost::system::error_code& error) {
    if (!error && !closed_) {
      look();
      wait_for_leaving();
    }
  });
}

// Who has gone is asked before the bytes are fetched: bytes that come in without a leaving are from a master
// that was there when they were fetched, or from one that has gone and whose last bytes the system took a
// while to bring. If a master goes before its answer is due, the next look() sees that.
void PtyLine::look() {
  const bool gone = device_->master_has_gone();
  if (gone) {
    end_of_visit();
  }
  const PtyDevice::Settings settings = device_->settings();  // before they are put back
  const bool as_before = device_->settings_as_before();
  modbus::Bytes bytes = device_->read(kMostAtOnce);
  if (gone || !bytes.empty()) {
    unclaimed_ = !device_->anybody_there();
  }
  // Only if need be: a master that comes this very moment must not find its own settings taken away.
  if (gone && unclaimed_) {
    as_before ? device_->end_exclusive_use() : device_->restore_settings();
  }
  if (bytes.empty() || dead_) {
    return;
  }
  if (!std::exchange(visited_, !unclaimed_)) {
    ++visits_;
  }
  // A character whose frame is wrong is read as 0 (termios(3), INPCK): so these are. No CRC over zeros alone
  // is good, however many there are.
  if (spec_.paced && !in_tune(settings)) {
    bytes.assign(bytes.size(), 0);
  }
  if (pump_.held()) {
    pump_.at_now([&](SimTime at) { compare_settings(settings, at); });
    auto first = first_.in(bytes, pump_.waited());
    if (!first) {
      return;
    }
    bytes = std::move(*first);
    pump_.release();
  }
  SimTime now{};
  pump_.at_now([&](SimTime at) {
    now = at;
    compare_settings(settings, at);
    if (full() && !session_.within_frame()) {
      overrun(at);
    } else {
      session_.receive(bytes, at);
    }
    take_up(at, gone);
  });
  send_due(now);
}

// As a slave's port that is not read in time: what comes then is lost.
void PtyLine::overrun(SimTime at) {
  bench_.heard(index_, modbus::Heard::overrun);
  if (!std::exchange(overrun_noted_, true)) {
    bench_.journal().note(at, spec_.name, kOverrun);
  }
}

void PtyLine::end_of_visit() {
  waiting_.clear();
  device_->discard_unread();
  visited_ = false;
}

// `only_last`: a master went and another came since the last look, and these are the requests of both. A
// master asks one thing at a time, so at most the last one is still waited for.
void PtyLine::take_up(SimTime at, bool only_last) {
  auto answers = session_.poll(at);
  if (unclaimed_ || no_answers_ || dead_ || answers.empty()) {
    return;
  }
  const auto first = only_last ? std::prev(answers.end()) : answers.begin();
  std::for_each(first, answers.end(),
                [this](auto& answer) { wait_for_its_time(waiting_, std::move(answer)); });
}

// The other number of stop bits means the other parity, which the kernel does not show: an RTU character has
// 11 bits (MODBUS over Serial Line V1.02, 2.5.1), with parity and one stop bit or without and two.
bool PtyLine::in_tune(const PtyDevice::Settings& settings) const {
  return settings.baud == spec_.serial.baud && settings.stop_bits == spec_.serial.stop_bits;
}

void PtyLine::compare_settings(const PtyDevice::Settings& now, SimTime at) {
  if (compared_ && now == seen_) {
    return;
  }
  compared_ = true;
  seen_ = now;
  if (now.echo) {
    device_->switch_echo_off();
    seen_.echo = false;
    bench_.journal().note(at, spec_.name,
                          "the master's terminal echoed what it received; switched off, or our answers "
                          "would come back as requests");
  }
  if (in_tune(now) || (!spec_.paced && std::exchange(hint_given_, true))) {
    return;
  }
  const std::string speed = now.baud == 0 ? "an unusual speed" : std::to_string(now.baud) + " bit/s";
  bench_.journal().note(
      at, spec_.name,
      "the master has opened it at " + speed + " with " + std::to_string(now.stop_bits) + " stop bit" +
          (now.stop_bits == 1 ? "" : "s") + ", the line is set to " + to_text(spec_.serial) + ": " +
          (spec_.paced ? "as on a real line they do not understand each other, so it gets no answer"
                       : "a real line would stay silent; answered all the same, the line has no pacing") +
          " (parity cannot be seen on a pseudo-terminal)");
}

void PtyLine::send_due(SimTime at) {
  while (!waiting_.empty() && waiting_.front().due <= at) {
    const LineSession::Outgoing piece = std::move(waiting_.front());
    waiting_.pop_front();
    // look() has seen every leaving, unless the system gave no watch.
    if (!device_->anybody_there()) {
      continue;
    }
    device_->write(piece.bytes);
    session_.sent(piece, at);
    // It may have gone between the question and the answer.
    if (device_->master_has_gone()) {
      end_of_visit();
    }
  }
  arm();
}

void PtyLine::arm() {
  if (closed_) {
    return;
  }
  std::optional<SimTime> next = session_.wake_at();
  if (!waiting_.empty()) {
    next = next ? std::min(*next, waiting_.front().due) : waiting_.front().due;
  }
  alarm_.set(next, [this] {
    look();
    SimTime now{};
    pump_.at_now([&](SimTime at) {
      now = at;
      take_up(at, false);
    });
    send_due(now);
  });
}

}  // namespace

Result<std::unique_ptr<Line>, std::string> open_pty_line(Pump& pump, bench::Bench& bench, std::size_t index,
                                                         const WallBench::Options& options) {
  const bench::LineSpec& spec = bench.spec().lines.at(index);
  auto opened = PtyDevice::open(spec.serial);
  if (!opened) {
    return Failure{opened.error()};
  }
  auto device = std::move(opened).value();
  const std::string link = options.private_lines ? "" : spec.path;
  if (!link.empty()) {
    device->is_found_by(link);
    const auto in_use = [&link](const std::string& terminal) {
      return terminal_of_a_running_bench(terminal, link);
    };
    if (const auto placed = place_link(link, device->path(), in_use); !placed) {
      return Failure{placed.error()};
    }
  }
  return std::unique_ptr<Line>(std::make_unique<PtyLine>(pump, bench, index, std::move(device), link));
}

}  // namespace emberline::io
