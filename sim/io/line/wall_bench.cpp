#include "sim/io/line/wall_bench.hpp"

#include <algorithm>
#include <utility>

#include <boost/asio/executor_work_guard.hpp>
#include <boost/asio/io_context.hpp>
#include <boost/asio/post.hpp>

#include "sim/io/line/line.hpp"
#include "sim/io/line/pump.hpp"

namespace emberline::io {

Pump::Pump(boost::asio::io_context& context, bench::EventLoop& loop)
    : context_(context), loop_(loop), timer_(context) {}

void Pump::start() {
  zero_ = std::chrono::steady_clock::now() - loop_.now().time_since_epoch();
  running_ = true;
}

void Pump::stop() {
  running_ = false;
  timer_.cancel();
}

SimTime Pump::now() const {
  return SimTime{std::chrono::duration_cast<Duration>(std::chrono::steady_clock::now() - zero_)};
}

SimTime Pump::begin() {
  const SimTime at = std::max(now(), loop_.now());
  loop_.run_before(at);
  return at;
}

void Pump::finish(SimTime at) {
  loop_.touched();
  loop_.run_through(at);
  if (moved_) {
    moved_();
  }
  arm();
}

void Pump::arm() {
  const auto next = loop_.next();
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
      : bench(the_bench), pump(context, loop), options_(options), work_(context.get_executor()) {}

  Result<std::vector<OpenLine>, std::string> open();
  void run();
  void close();
  void pass_on_cuts();

  bench::Bench& bench;
  boost::asio::io_context context{1};
  Pump pump;
  std::vector<std::unique_ptr<Line>> lines;

 private:
  Options options_;
  boost::asio::executor_work_guard<boost::asio::io_context::executor_type> work_;
  std::vector<bool> cut_;
};

Result<std::vector<OpenLine>, std::string> WallBench::Impl::open() {
  std::vector<OpenLine> opened;
  const auto& specs = bench.spec().lines;
  for (std::size_t index = 0; index < specs.size(); ++index) {
    const bench::LineSpec& spec = specs[index];
    Result<std::unique_ptr<Line>, std::string> line = Failure{
        std::string(bench::to_word(spec.kind)) + " lines cannot be opened yet; expected a pty or a tcp line"};
    if (spec.kind == bench::LineKind::pty) {
      line = open_pty_line(pump, bench, index, options_);
    } else if (spec.kind == bench::LineKind::tcp) {
      line = open_tcp_line(pump, bench, index, options_);
    }
    if (!line) {
      close();
      return Failure{"line " + spec.name + ": " + line.error()};
    }
    lines.push_back(std::move(line).value());
    opened.push_back(lines.back()->where());
  }
  cut_.assign(lines.size(), false);
  pump.on_moved([this] { pass_on_cuts(); });
  pump.start();
  return opened;
}

void WallBench::Impl::pass_on_cuts() {
  for (std::size_t index = 0; index < lines.size(); ++index) {
    const bool cut = bench.line_cut(index);
    if (cut != cut_[index]) {
      cut_[index] = cut;
      lines[index]->set_cut(cut);
    }
  }
}

void WallBench::Impl::run() {
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

void WallBench::stop() { impl_->context.stop(); }

void WallBench::post(std::function<void(SimTime)> task) {
  boost::asio::post(impl_->context,
                    [impl = impl_.get(), task = std::move(task)] { impl->pump.at_now(task); });
}

SimTime WallBench::now() const { return impl_->pump.now(); }

boost::asio::io_context& WallBench::context() { return impl_->context; }

WallBench::Statistics WallBench::statistics() const {
  Statistics sum;
  for (const auto& line : impl_->lines) {
    const Statistics one = line->statistics();
    sum.requests += one.requests;
    sum.faults += one.faults;
    sum.connections += one.connections;
    sum.swallowed += one.swallowed;
  }
  return sum;
}

}  // namespace emberline::io
