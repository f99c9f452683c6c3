#include "sim/io/line/wall_bench.hpp"

#include <algorithm>
#include <cerrno>
#include <cstdint>
#include <utility>

#include <boost/asio/executor_work_guard.hpp>
#include <boost/asio/io_context.hpp>
#include <boost/asio/post.hpp>
#include <boost/asio/steady_timer.hpp>

#include "sim/io/line/descriptor.hpp"
#include "sim/io/line/line.hpp"
#include "sim/io/line/pump.hpp"

namespace emberline::io {

Pump::Pump(boost::asio::io_context& context, bench::EventLoop& loop)
    : context_(context), loop_(loop), timer_(context), readiness_(context) {}

void Pump::start(bool held) {
  zero_ = std::chrono::steady_clock::now() - loop_.now().time_since_epoch();
  running_ = true;
  held_ = held;
}

SimTime Pump::waited() const {
  return SimTime{std::chrono::duration_cast<Duration>(std::chrono::steady_clock::now() - zero_)};
}

void Pump::release() {
  if (!std::exchange(held_, false)) {
    return;
  }
  zero_ = std::chrono::steady_clock::now() - loop_.now().time_since_epoch();
  at_the_start_ = true;
  boost::asio::post(context_, [this] {
    if (running_ && released_) {
      released_();
    }
  });
}

void Pump::stop() {
  running_ = false;
  timer_.cancel();
}

SimTime Pump::now() const {
  if (held_) {
    return loop_.now();
  }
  return SimTime{std::chrono::duration_cast<Duration>(std::chrono::steady_clock::now() - zero_)};
}

SimTime Pump::begin() {
  if (held_ || std::exchange(at_the_start_, false)) {
    return loop_.now();
  }
  const SimTime at = std::max(now(), loop_.now());
  if (looked_ahead_ && armed_ && at < *armed_)
    loop_.stand_at(at);  // so short after another instant that nothing of the bench's own lies between
  else
    loop_.run_before(at);
  return at;
}

void Pump::finish(SimTime at) {
  if (held_) {
    return;
  }
  looked_ahead_ = false;  // what is called now may lead back to begin()
  loop_.touched();
  loop_.run_through(at);
  if (moved_) {
    moved_();
  }
  arm();
}

void Pump::arm() {
  const auto next = loop_.next();
  looked_ahead_ = true;
  if (!running_ || next == armed_) {
    return;
  }
  armed_ = next;
  if (!next) {
    timer_.cancel();
    return;
  }
  timer_.expires_at(wall(*next));
  timer_.async_wait([this](const boost::system::error_code& error) {
    if (error || !running_) {
      return;  // armed anew, or stopping
    }
    armed_.reset();
    looked_ahead_ = false;
    loop_.run_through(std::max(now(), loop_.now()));
    if (moved_) {
      moved_();
    }
    arm();
  });
}

class WallBench::Impl {
 public:
  Impl(bench::Bench& the_bench, bench::EventLoop& loop, Options options)
      : bench(the_bench),
        pump(context, loop),
        options_(options),
        work_(context.get_executor()),
        patience_(context) {}

  Result<std::vector<OpenLine>, std::string> open();
  void run();
  void close();
  void pass_on_conditions();
  void wait_for_master();

  bench::Bench& bench;
  boost::asio::io_context context{1};
  Pump pump;
  std::vector<std::unique_ptr<Line>> lines;
  std::function<void()> begun;

 private:
  Options options_;
  boost::asio::executor_work_guard<boost::asio::io_context::executor_type> work_;
  boost::asio::steady_timer patience_;  // with masters that do not come
  std::vector<Conditions> passed_on_;
  std::uint64_t seen_changes_ = 0;  // of the lines
};

namespace {

Result<std::unique_ptr<Line>, std::string> open_line(Pump& pump, bench::Bench& bench, std::size_t index,
                                                     const WallBench::Options& options) {
  const bench::LineKind kind = bench.spec().lines[index].kind;
  if (kind == bench::LineKind::pty || (options.private_lines && bench::carries_rtu(kind))) {
    return open_pty_line(pump, bench, index, options);
  }
  if (kind == bench::LineKind::serial_port) {
    return open_serial_port_line(pump, bench, index);
  }
  return open_tcp_line(pump, bench, index, options);
}

}  // namespace

Result<std::vector<OpenLine>, std::string> WallBench::Impl::open() {
  std::vector<OpenLine> opened;
  if (!pump.readiness().usable()) {
    return Failure{"the system has no room for what it takes to watch connections: " + system_words(errno)};
  }
  const auto& specs = bench.spec().lines;
  for (std::size_t index = 0; index < specs.size(); ++index) {
    const bench::LineSpec& spec = specs[index];
    auto line = open_line(pump, bench, index, options_);
    if (!line) {
      close();
      return Failure{"line " + spec.name + ": " + line.error()};
    }
    lines.push_back(std::move(line).value());
    opened.push_back(lines.back()->where());
  }
  passed_on_.assign(lines.size(), Conditions{});
  pump.on_moved([this] { pass_on_conditions(); });
  pump.start(options_.wait_for_master.has_value());
  return opened;
}

void WallBench::Impl::pass_on_conditions() {
  // After every instant, of which there is one for each request; the lines change with an action of
  // somebody's.
  if (std::exchange(seen_changes_, bench.lines().changes()) == bench.lines().changes()) {
    return;
  }
  for (std::size_t index = 0; index < lines.size(); ++index) {
    const bench::Lines& all = bench.lines();
    const Conditions now{all.passes(index, bench::Way::to_units), all.passes(index, bench::Way::to_masters),
                         all.conduct(index)};
    if (now != passed_on_[index]) {
      passed_on_[index] = now;
      lines[index]->follow(now);
    }
  }
}

void WallBench::Impl::wait_for_master() {
  pump.on_released([this] {
    patience_.cancel();
    for (const auto& line : lines) {
      line->time_runs();
    }
    if (begun) {
      begun();
    }
  });
  patience_.expires_after(*options_.wait_for_master);
  patience_.async_wait([this](const boost::system::error_code& cancelled) {
    if (!cancelled && pump.held()) {
      context.stop();
    }
  });
}

void WallBench::Impl::run() {
  if (pump.held()) {
    wait_for_master();
  }
  pump.at_now([](SimTime) {});
  for (const auto& line : lines) {
    line->start();
  }
  context.run();
  close();
}

void WallBench::Impl::close() {
  pump.stop();
  for (const auto& line : lines) {
    line->close();
  }
}

WallBench::WallBench(bench::Bench& bench, bench::EventLoop& loop, Options options)
    : impl_(std::make_unique<Impl>(bench, loop, options)) {}

WallBench::~WallBench() { impl_->close(); }

Result<std::vector<OpenLine>, std::string> WallBench::open() { return impl_->open(); }

void WallBench::run() { impl_->run(); }

void WallBench::on_begun(std::function<void()> begun) { impl_->begun = std::move(begun); }

bool WallBench::begun() const { return !impl_->pump.held(); }

void WallBench::stop() { impl_->context.stop(); }

void WallBench::post(std::function<void(SimTime)> task) {
  boost::asio::post(impl_->context,
                    [impl = impl_.get(), task = std::move(task)] { impl->pump.at_now(task); });
}

SimTime WallBench::now() const { return impl_->pump.now(); }

boost::asio::io_context& WallBench::context() { return impl_->context; }

WallBench::Statistics& WallBench::Statistics::operator+=(const Statistics& other) {
  requests += other.requests;
  faults += other.faults;
  connections += other.connections;
  swallowed += other.swallowed;
  answers += other.answers;
  late += other.late;
  return *this;
}

WallBench::Statistics WallBench::statistics() const {
  Statistics sum;
  for (const auto& line : impl_->lines) {
    sum += line->statistics();
  }
  return sum;
}

}  // namespace emberline::io
