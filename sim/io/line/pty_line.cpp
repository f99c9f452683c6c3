#include <algorithm>
#include <deque>
#include <optional>
#include <utility>

#include <boost/asio/posix/stream_descriptor.hpp>
#include <boost/asio/steady_timer.hpp>

#include "sim/bench/line_session.hpp"
#include "sim/io/line/line.hpp"
#include "sim/io/line/pty_device.hpp"
#include "sim/io/line/pump.hpp"
#include "sim/io/line/stable_link.hpp"

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
        spec_(bench.spec().lines.at(index)),
        device_(std::move(device)),
        link_(std::move(link)),
        session_(bench, index, "the master on " + spec_.name, {.strict = spec_.strict_timing}),
        bytes_(pump.context(), device_->descriptor()),
        watch_(pump.context()),
        timer_(pump.context()),
        retry_(pump.context()) {
    if (device_->watch_descriptor() >= 0) {
      watch_.assign(device_->watch_descriptor());
    }
  }
  ~PtyLine() override { let_go(); }

  [[nodiscard]] OpenLine where() const override {
    return {spec_.name, spec_.kind, link_.empty() ? device_->path() : link_, "", 0};
  }
  void start() override {
    wait_for_bytes();
    wait_for_leaving();
  }
  void set_cut(bool cut) override {
    cut_ = cut;
    if (cut) {
      waiting_.clear();
    }
  }
  void close() override { let_go(); }
  [[nodiscard]] WallBench::Statistics statistics() const override {
    return {session_.requests(), session_.faults(), visits_, session_.swallowed()};
  }

 private:
  void let_go();
  void wait_for_bytes();
  void wait_for_leaving();
  void look();
  void end_of_visit();
  void take_up(SimTime at, bool only_last);
  void compare_settings(SimTime at);
  void send_due();
  void arm();

  Pump& pump_;
  bench::Bench& bench_;
  const bench::LineSpec& spec_;
  std::unique_ptr<PtyDevice> device_;
  std::string link_;  // empty: none
  LineSession session_;
  stream_descriptor bytes_;
  stream_descriptor watch_;
  boost::asio::steady_timer timer_;  // an answer is due, or silence ends a frame
  boost::asio::steady_timer retry_;
  std::optional<SimTime> armed_;
  std::deque<LineSession::Outgoing> waiting_;
  PtyDevice::Settings seen_;  // the settings last compared
  bool compared_ = false;
  bool cut_ = false;
  bool closed_ = false;
  bool unclaimed_ = false;  // what has come in last is from a master that is no longer there
  bool visited_ = false;    // the present master has said something
  std::uint64_t visits_ = 0;
};

void PtyLine::let_go() {
  if (std::exchange(closed_, true)) {
    return;
  }
  timer_.cancel();
  retry_.cancel();
  bytes_.release();  // the device closes them
  if (watch_.is_open()) {
    watch_.release();
  }
  if (!link_.empty()) {
    remove_link(link_, device_->path());
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
  const modbus::Bytes bytes = device_->read(kMostAtOnce);
  if (gone || !bytes.empty()) {
    unclaimed_ = !device_->anybody_there();
  }
  if (gone && unclaimed_) {
    device_->restore_settings();
  }
  if (bytes.empty()) {
    return;
  }
  if (!std::exchange(visited_, !unclaimed_)) {
    ++visits_;
  }
  pump_.at_now([&](SimTime at) {
    session_.receive(bytes, at);
    take_up(at, gone);
  });
  arm();
}

void PtyLine::end_of_visit() {
  waiting_.clear();
  device_->discard_unread();
  visited_ = false;
}

// `only_last`: a master went and another came since the last look, and these are the requests of both. A
// master asks one thing at a time, so at most the last one is still waited for.
void PtyLine::take_up(SimTime at, bool only_last) {
  const auto before = session_.requests();
  auto answers = session_.poll(at);
  if (session_.requests() != before) {
    compare_settings(at);
  }
  if (unclaimed_ || cut_ || answers.empty()) {
    return;
  }
  const auto first = only_last ? std::prev(answers.end()) : answers.begin();
  std::move(first, answers.end(), std::back_inserter(waiting_));
}

void PtyLine::compare_settings(SimTime at) {
  const PtyDevice::Settings now = device_->settings();
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
  if (now.baud == spec_.serial.baud && now.stop_bits == spec_.serial.stop_bits) {
    return;
  }
  const std::string speed = now.baud == 0 ? "an unusual speed" : std::to_string(now.baud) + " bit/s";
  bench_.journal().note(
      at, spec_.name,
      "the master has opened it at " + speed + " with " + std::to_string(now.stop_bits) + " stop bit" +
          (now.stop_bits == 1 ? "" : "s") + ", the line is set to " + to_text(spec_.serial) +
          ": on a real line they would not understand each other; answered all the same (parity cannot be "
          "seen on a pseudo-terminal)");
}

void PtyLine::send_due() {
  while (!waiting_.empty() && waiting_.front().due <= pump_.now()) {
    const modbus::Bytes bytes = std::move(waiting_.front().bytes);
    waiting_.pop_front();
    // look() has seen every leaving, unless the system gave no watch.
    if (!device_->anybody_there()) {
      continue;
    }
    device_->write(bytes);
    // It may have gone between the question and the answer.
    if (device_->master_has_gone()) {
      end_of_visit();
    }
  }
}

void PtyLine::arm() {
  std::optional<SimTime> next = session_.wake_at();
  if (!waiting_.empty()) {
    next = next ? std::min(*next, waiting_.front().due) : waiting_.front().due;
  }
  if (closed_ || next == armed_) {
    return;
  }
  armed_ = next;
  if (!next) {
    timer_.cancel();
    return;
  }
  timer_.expires_at(pump_.wall(*next));
  timer_.async_wait([this](const boost::system::error_code& error) {
    if (error || closed_) {
      return;
    }
    armed_.reset();
    look();
    pump_.at_now([this](SimTime at) { take_up(at, false); });
    send_due();
    arm();
  });
}

}  // namespace

Result<std::unique_ptr<Line>, std::string> open_pty_line(Pump& pump, bench::Bench& bench, std::size_t index,
                                                         const WallBench::Options& options) {
  const bench::LineSpec& spec = bench.spec().lines.at(index);
  auto device = PtyDevice::open(spec.serial);
  if (!device) {
    return Failure{device.error()};
  }
  const std::string link = options.private_lines ? "" : spec.path;
  if (!link.empty()) {
    if (const auto placed = place_link(link, (*device)->path(), terminal_of_a_running_bench); !placed) {
      return Failure{placed.error()};
    }
  }
  return std::unique_ptr<Line>(
      std::make_unique<PtyLine>(pump, bench, index, std::move(device).value(), link));
}

}  // namespace emberline::io
