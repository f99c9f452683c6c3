#include "sim/io/master/wall_masters.hpp"

#include <algorithm>
#include <atomic>
#include <condition_variable>
#include <deque>
#include <mutex>
#include <optional>
#include <thread>
#include <utility>

#include "sim/io/master/real_line.hpp"
#include "sim/rehearsal/stand_in.hpp"

namespace emberline::io {

namespace {

/// What the stand-ins of a run have in common.
struct Run {
  std::function<SimTime()> now;
  std::function<void(std::string, std::string)> note;
  std::atomic<std::uint64_t> transactions{0};
  std::mutex mutex;
  std::condition_variable ending;
  std::atomic<bool> over{false};  ///< set under the mutex, so that no sleeper misses it
};

/// One stand-in in its thread, with lines of its own.
class WallStandIn final : private rehearsal::MasterLink {
 public:
  WallStandIn(const rehearsal::MasterSpec& spec, const std::vector<LineAddress>& lines, Run& run)
      : spec_(spec), run_(run) {
    for (const std::string& name : spec.lines) {
      for (const LineAddress& line : lines) {
        if (line.name != name) continue;
        LineAddress address = line;
        if (spec.serial && address.rtu) address.serial = *spec.serial;
        lines_.emplace_back(std::move(address), spec.timeout);
      }
    }
  }
  ~WallStandIn() override { join(); }

  void start() {
    if (!thread_.joinable()) thread_ = std::thread([this] { rehearsal::play(spec_, *this); });
  }
  void join() {
    if (thread_.joinable()) thread_.join();
  }

 private:
  [[nodiscard]] SimTime now() const override { return run_.now(); }
  [[nodiscard]] bool over() const override { return run_.over; }
  void note(std::string sentence) override { run_.note(spec_.name, std::move(sentence)); }
  void power_fails_at(std::optional<SimTime> at) override { fails_at_ = at; }
  void lost_power() override {
    for (RealLine& line : lines_) {
      line.disconnect();
      line.wait_at_most(spec_.timeout);
    }
  }

  [[nodiscard]] bool sleep_until(SimTime at) override {
    std::unique_lock lock(run_.mutex);
    while (!run_.over) {
      const SimTime now = run_.now();
      if (now >= at) return true;
      run_.ending.wait_for(lock, at - now);
    }
    return false;
  }

  template <class T, class Call>
  Result<T, Failure> request(const std::string& name, Call&& call) {
    for (RealLine& line : lines_) {
      if (line.address().name != name || run_.over) continue;
      ++run_.transactions;
      if (fails_at_) line.wait_at_most(std::min(spec_.timeout, *fails_at_ - run_.now()));
      auto result = line.ask(std::forward<Call>(call));
      if (result) return std::move(result).value();
      return emberline::Failure{Failure{result.error().refusal}};
    }
    return emberline::Failure{Failure{}};
  }

  Result<std::vector<std::uint16_t>, Failure> read_registers(const std::string& line, int id,
                                                             modbus::Table table,
                                                             modbus::AddressRange range) override {
    return request<std::vector<std::uint16_t>>(
        line, [&](modbus_t* context) { return io::read_registers(context, id, table, range); });
  }
  Result<std::vector<bool>, Failure> read_bits(const std::string& line, int id, modbus::Table table,
                                               modbus::AddressRange range) override {
    return request<std::vector<bool>>(
        line, [&](modbus_t* context) { return io::read_bits(context, id, table, range); });
  }
  Result<Done, Failure> write_registers(const std::string& line, int id, std::uint16_t first,
                                        const std::vector<std::uint16_t>& values) override {
    return request<Done>(line,
                         [&](modbus_t* context) { return io::write_registers(context, id, first, values); });
  }
  Result<Done, Failure> write_bits(const std::string& line, int id, std::uint16_t first,
                                   const std::vector<bool>& values) override {
    return request<Done>(line, [&](modbus_t* context) { return io::write_bits(context, id, first, values); });
  }

  const rehearsal::MasterSpec& spec_;
  Run& run_;
  std::optional<SimTime> fails_at_;  ///< its power
  std::deque<RealLine> lines_;
  std::thread thread_;
};

}  // namespace

class WallMasters::Impl {
 public:
  Impl(const std::vector<rehearsal::MasterSpec>& masters, const std::vector<LineAddress>& lines,
       std::function<SimTime()> now, std::function<void(std::string, std::string)> note)
      : specs_(masters) {
    run_.now = std::move(now);
    run_.note = std::move(note);
    for (const rehearsal::MasterSpec& spec : specs_) stand_ins_.emplace_back(spec, lines, run_);
  }
  ~Impl() { finish(); }
  Impl(const Impl&) = delete;
  Impl& operator=(const Impl&) = delete;

  void start() {
    for (WallStandIn& stand_in : stand_ins_) stand_in.start();
  }
  void finish() {
    {
      const std::lock_guard lock(run_.mutex);
      run_.over = true;
    }
    run_.ending.notify_all();
    for (WallStandIn& stand_in : stand_ins_) stand_in.join();
  }
  [[nodiscard]] std::uint64_t transactions() const { return run_.transactions; }

 private:
  std::vector<rehearsal::MasterSpec> specs_;
  Run run_;
  std::deque<WallStandIn> stand_ins_;  // threads end before what they use
};

WallMasters::WallMasters(const std::vector<rehearsal::MasterSpec>& masters,
                         const std::vector<LineAddress>& lines, std::function<SimTime()> now,
                         std::function<void(std::string, std::string)> note)
    : impl_(std::make_unique<Impl>(masters, lines, std::move(now), std::move(note))) {}
WallMasters::~WallMasters() = default;

void WallMasters::start() { impl_->start(); }
void WallMasters::finish() { impl_->finish(); }
std::uint64_t WallMasters::transactions() const { return impl_->transactions(); }

}  // namespace emberline::io
