#include <array>
#include <ctime>
#include <string>

#include "sim/bench/bench.hpp"
#include "sim/bench/event_loop.hpp"
#include "tests/bench/measure.hpp"
#include "tests/bench/small_bench.hpp"
#include "tests/bench/speed.hpp"

namespace emberline::speed {
namespace {

using plant::Connection;
using std::chrono::milliseconds;
using std::chrono::seconds;
using unit::FiringMode;

enum class Kind : std::uint8_t { resistive, inductive, transformer };

struct Network {
  const char* name;
  Connection connection;
  Kind kind;
};

constexpr std::array kNetworks{
    Network{"single-phase", Connection::single_phase, Kind::resistive},
    Network{"single-phase, 3 mH", Connection::single_phase, Kind::inductive},
    Network{"single-phase, transformer", Connection::single_phase, Kind::transformer},
    Network{"star-4-wire", Connection::star_4_wire, Kind::resistive},
    Network{"star-4-wire, 3 mH", Connection::star_4_wire, Kind::inductive},
    Network{"star-4-wire, transformers", Connection::star_4_wire, Kind::transformer},
    Network{"star-3-wire", Connection::star_3_wire, Kind::resistive},
    Network{"star-3-wire, 3 mH", Connection::star_3_wire, Kind::inductive},
    Network{"delta", Connection::delta, Kind::resistive},
    Network{"delta, 3 mH", Connection::delta, Kind::inductive},
    Network{"open-delta", Connection::open_delta, Kind::resistive},
    Network{"open-delta, 3 mH", Connection::open_delta, Kind::inductive},
    Network{"open-delta, transformers", Connection::open_delta, Kind::transformer},
};

bench::BenchSpec bench_of(const Network& network, FiringMode mode) {
  auto spec = small_bench(mode);
  auto& entry = spec.units.front();
  auto& load = entry.load;
  load.connection = network.connection;
  // Legs between lines see 1.7 times the voltage; with three times the resistance they take the same power.
  if (network.connection == Connection::delta || network.connection == Connection::open_delta)
    load.cold_resistance_ohm = {66, 66, 66};
  if (network.connection == Connection::single_phase) entry.unit.control.full_scale = 8e3;
  if (network.kind == Kind::inductive) load.inductance_H = {3e-3, 3e-3, 3e-3};
  if (network.kind == Kind::transformer) {
    load.transformer.emplace();
    if (mode != FiringMode::phase_angle) entry.unit.firing.first_angle_deg = 90;  // or it saturates
  }
  // What a protection says to a load is not what is measured.
  for (auto& protection : entry.unit.protections) protection.on = false;
  return spec;
}

double thread_seconds() {
  timespec now{};
  ::clock_gettime(CLOCK_THREAD_CPUTIME_ID, &now);
  return static_cast<double>(now.tv_sec) + 1e-9 * static_cast<double>(now.tv_nsec);
}

/// Bench and loop of one network, fired at 40 to 60 %.
class Fired {
 public:
  Fired(const Network& network, FiringMode mode) : name_(network.name), bench_(bench_of(network, mode)) {
    loop_.add(bench::Rank::timers, bench_.timers());
    loop_.add(bench::Rank::grid, bench_.grid());
    set(500);
    loop_.run_through(SimTime{seconds{4}});
    bool heats = false;
    for (int tenth = 0; tenth < 10; ++tenth) {  // a whole base of bursts
      loop_.run_through(loop_.now() + milliseconds{100});
      heats = heats || bench_.unit(0).value(registers::Point::load_power, loop_.now()) > 100.0;
    }
    if (!heats) broken(name_ + " takes no power");
  }
  /// Microseconds that a simulated second costs; with `moving` the setpoint is another one every 100 ms.
  [[nodiscard]] double second_us(bool moving) {
    constexpr double kEnough_s = 0.06;
    const auto start = loop_.now();
    const double processor_start = thread_seconds();
    double took = 0.0;
    for (unsigned step = 0; took < kEnough_s; took = thread_seconds() - processor_start) {
      for (int tenth = 0; tenth < 10; ++tenth) {
        if (moving) set(400 + 37 * ++step % 200);
        loop_.run_through(loop_.now() + milliseconds{100});
      }
    }
    return took * 1e6 / to_seconds(loop_.now() - start);
  }

 private:
  void set(unsigned thousandths) {
    const modbus::Bytes write{0x06, 0x00, 0x00, static_cast<std::uint8_t>(thousandths >> 8U),
                              static_cast<std::uint8_t>(thousandths & 0xFFU)};
    const auto reply = bench_.request(0, kUnitId, write, loop_.now(), "bench");
    if (!reply.pdu || *reply.pdu != write) broken(name_ + " does not take its setpoint");
  }
  std::string name_;
  bench::Bench bench_;
  bench::EventLoop loop_;
};

}  // namespace

void step_cost() {
  Table table({"network", "phase-angle", "setpoint moving", "burst-spread", "burst"});
  for (const auto& network : kNetworks) {
    std::vector<std::string> cells{network.name};
    Fired angle(network, FiringMode::phase_angle);
    cells.push_back(number(angle.second_us(false)));
    cells.push_back(number(angle.second_us(true)));
    for (const auto mode : {FiringMode::burst_spread, FiringMode::burst})
      cells.push_back(number(Fired(network, mode).second_us(false)));
    table.row(cells);
  }
  table.print(
      "What a simulated second of one unit and its zone costs, in us of a processor",
      "Phase angle moves in steps of 100 ms while nothing changes, all else in mains cycles of 20 ms: a "
      "fiftieth of a figure is what one of these costs. 10,000 us are 1 % of a processor in wall time.");
}

}  // namespace emberline::speed
