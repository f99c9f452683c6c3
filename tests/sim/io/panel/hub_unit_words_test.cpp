#include <string>
#include <utility>

#include <doctest/doctest.h>

#include "sim/bench/event_loop.hpp"
#include "sim/faults/action.hpp"
#include "sim/io/panel/frame_words.hpp"
#include "sim/io/panel/snapshot.hpp"
#include "sim/io/panel/state_json.hpp"
#include "sim/io/panel/traffic_json.hpp"
#include "sim/io/panel/unit_words.hpp"
#include "tests/sim/io/panel/hub_rig.hpp"

using namespace emberline;
using namespace std::chrono_literals;

namespace {

/// A bench in stepped time, with one heater that latches off after two seconds of silence.
class Stepped {
 public:
  explicit Stepped(registers::Policy policy = registers::Policy::latch_to_inhibit)
      : bench_(spec_with(policy)), facts_(bench_.spec(), {}) {
    loop_.add(bench::Rank::timers, bench_.timers());
    loop_.add(bench::Rank::grid, bench_.grid());
  }
  void write_setpoint(std::uint16_t permille) {
    const auto at = loop_.now();
    (void)bench_.request(0, 1,
                         modbus::Bytes{0x06, 0x00, 0x30, static_cast<std::uint8_t>(permille >> 8U),
                                       static_cast<std::uint8_t>(permille & 0xFFU)},
                         at, "tester");
    loop_.touched();
  }
  void act(const std::string& what) {
    const auto action = faults::parse_action(bench_.spec(), what);
    REQUIRE(action);
    faults::carry_out(bench_, *action, loop_.now());
    loop_.touched();
  }
  void run(Duration time) { loop_.run_through(loop_.now() + time); }
  std::string says() {
    io::take_snapshot(bench_, facts_, loop_.now(), snapshot_);
    return io::unit_says(facts_, snapshot_, 0);
  }
  const io::Snapshot& snapshot() const { return snapshot_; }
  const io::BenchFacts& facts() const { return facts_; }

 private:
  static bench::BenchSpec spec_with(registers::Policy policy) {
    auto spec = test::small_bench();
    spec.io_blocks.clear();
    auto& unit = spec.units[0].unit;
    unit.comms_loss.timeout = 2s;
    unit.comms_loss.policy = policy;
    unit.comms_loss.preset = 0.2;
    spec.units[0].load.leakage_A = 0.03;
    spec.units[0].load.thyristor_drop_V = 0.0;  // textbook figures hold exactly
    return spec;
  }
  bench::Bench bench_;
  bench::EventLoop loop_;
  io::BenchFacts facts_;
  io::Snapshot snapshot_;
};

}  // namespace

TEST_CASE("a page says another thing about a unit than what it does") {
  Stepped bench;
  bench.run(1s);
  CHECK(bench.says() ==
        "Ready, output 0: the register asks for 0 %. Its thyristors leak: the load is not isolated.");
  bench.write_setpoint(500);
  bench.run(1s);
  CHECK(bench.says() == "Running at 50 % of full output, as the register says.");
  bench.run(2s);
  CHECK(bench.says() ==
        "Latched off: no feeding request came for 2 s. It stays off until comms are back and then a reset is "
        "seen (enable-cycle). Its thyristors leak: the load is not isolated.");
  bench.write_setpoint(500);
  bench.run(100ms);
  CHECK(bench.says().find("Comms are back, but it stays off until a reset is seen") != std::string::npos);
  bench.act("open north.terminal.enable");
  bench.run(1s);
  bench.write_setpoint(500);
  bench.act("release north.terminal.enable");
  bench.run(100ms);
  CHECK(bench.says().find("Ready, output 0") == 0);  // the setpoint is zero after a reset
  bench.act("open north.terminal.enable");
  bench.run(500ms);
  CHECK(bench.says().find("Off: terminal enable is open.") == 0);
  bench.act("power_off north");
  bench.run(500ms);
  CHECK(bench.says().find("Without control supply: it answers nobody") == 0);
}

TEST_CASE("a unit that heats without comms is said to be well") {
  Stepped holds(registers::Policy::hold_last_command);
  holds.write_setpoint(500);
  holds.run(3s);
  CHECK(holds.says() ==
        "No feeding request came for 3 s: it goes on with the last command, output 50 %, and nobody is in "
        "control of the load.");
  Stepped preset(registers::Policy::go_to_preset);
  preset.write_setpoint(500);
  preset.run(3s);
  CHECK(preset.says() ==
        "No feeding request came for 3 s: it has gone to its preset of 20 %, output 20 %, until a new "
        "setpoint is "
        "written.");
}

TEST_CASE("a shorted thyristor is shown as off") {
  Stepped bench;
  bench.act("thyristor_shorted north.l1.forward");
  bench.act("open north.terminal.enable");
  bench.run(1s);
  const auto says = bench.says();
  CAPTURE(says);
  CHECK((says.find("the load is live") != std::string::npos ||
         says.find("no longer blocks") != std::string::npos));
}

TEST_CASE("the current of one live phase is told as the mean of all") {
  Stepped bench;
  bench.act("thyristor_shorted north.l1.forward");
  bench.act("thyristor_shorted north.l1.backward");
  bench.act("open north.terminal.enable");
  bench.run(1s);
  // 230.94 V across 10 ohm: 23.09 A in one phase of three. Ohm's law.
  const auto says = bench.says();
  CAPTURE(says);
  CHECK(says.find(" Yet 23.09 A flow: the load is live.") != std::string::npos);
}

TEST_CASE("instants of the second week are told apart by whole seconds only") {
  Stepped bench;
  (void)bench.says();
  auto snapshot = bench.snapshot();
  snapshot.at = SimTime{std::chrono::milliseconds{1'234'567'891}};
  const io::TrafficFeed nothing_seen(bench.facts());
  io::Recovery recovery;
  recovery.look(SimTime{std::chrono::milliseconds{1'234'000'125}}, {{true, true}});
  recovery.look(SimTime{std::chrono::milliseconds{1'234'500'250}}, {{false, false}});
  recovery.look(SimTime{std::chrono::milliseconds{1'234'560'375}}, {{true, true}});
  const auto state =
      boost::json::parse(io::state_json({bench.facts(), snapshot, nothing_seen, {}, recovery, false, false}));
  CHECK(state.at("at").as_double() == 1234567.891);
  CHECK(state.at("recovery").at("lost_at").as_double() == 1234500.25);
  CHECK(state.at("recovery").at("back_at").as_double() == 1234560.375);

  io::TrafficFeed traffic(bench.facts());
  const auto frame = modbus::rtu_frame(1, modbus::Bytes{0x03, 0x00, 0x30, 0x00, 0x01});
  std::vector<io::LineEvent> events(2);
  for (std::size_t i = 0; i < events.size(); ++i) {
    events[i].session = 1;
    events[i].at = SimTime{std::chrono::microseconds{1'234'567'891'000 + 1500 * static_cast<int>(i)}};
    events[i].number = i + 1;
    events[i].bytes = frame;
  }
  traffic.take(events);
  io::JsonText json;
  json.object();
  io::put_frames(json, bench.facts(), traffic, {0, 2, 10, snapshot.at});
  json.end_object();
  const auto frames = boost::json::parse(std::move(json).finished()).at("frames").as_array();
  REQUIRE(frames.size() == 2);
  CHECK(frames[0].at("at").as_double() == 1234567.891);
  CHECK(frames[1].at("at").as_double() == 1234567.8925);
}

TEST_CASE("little energy is told as a row of zeros") {
  const bench::SignalInfo energy{Dimension::energy, {}, {}};
  CHECK(bench::describe_value(energy, 3.6e6) == "1 kWh");
  auto spec = test::small_bench();
  registers::Row row;
  row.address = 0x0050;
  row.point = registers::Point::energy;
  row.layout.type = registers::Type::u32;
  row.layout.scale = 1.0;  // J
  registers::TableParts parts;
  parts.title = "Meter";
  parts.rows = {row};
  const auto table = registers::make_register_table(std::move(parts));
  REQUIRE(table);
  spec.units[0].unit.table = *table;
  const auto asked = modbus::rtu_frame(1, modbus::Bytes{0x03, 0x00, 0x50, 0x00, 0x02});
  const auto says = [&](std::uint32_t joules) {
    const modbus::Bytes pdu{0x03,
                            0x04,
                            static_cast<std::uint8_t>(joules >> 24U),
                            static_cast<std::uint8_t>(joules >> 16U & 0xFFU),
                            static_cast<std::uint8_t>(joules >> 8U & 0xFFU),
                            static_cast<std::uint8_t>(joules & 0xFFU)};
    return io::words_of(spec, {0, false, modbus::rtu_frame(1, pdu), asked, false}).says;
  };
  // 1 Wh is 3600 J.
  CHECK(says(9) == "north answers: energy 0.0025 Wh");
  CHECK(says(3600) == "north answers: energy 1 Wh");
  CHECK(says(7'200'000) == "north answers: energy 2 kWh");
}

TEST_CASE("the numbers of the state are not those of the bench") {
  Stepped bench;
  bench.write_setpoint(500);
  bench.run(1s);
  (void)bench.says();
  const io::TrafficFeed traffic(bench.facts());
  const std::vector<faults::InForce::Entry> nothing;
  const io::Recovery recovery;
  const auto state = boost::json::parse(
      io::state_json({bench.facts(), bench.snapshot(), traffic, nothing, recovery, false, false}));
  const auto& unit = state.at("units").at(0);
  // 230.94 V across 10 ohm at half the power of full conduction: 8 kW in all. Ohm's law.
  CHECK(unit.at("power").to_number<double>() == doctest::Approx(8000.0).epsilon(0.005));
  CHECK(unit.at("phases").at(0).at("voltage").to_number<double>() == doctest::Approx(163.3).epsilon(0.005));
  CHECK(unit.at("phases").at(0).at("current").to_number<double>() == doctest::Approx(16.33).epsilon(0.005));
  CHECK(unit.at("resistance").to_number<double>() == doctest::Approx(10.0).epsilon(0.005));
  CHECK(state.at("supply").at("nominal").to_number<double>() == doctest::Approx(230.94).epsilon(0.001));
  CHECK(unit.at("watchdog").at("left").to_number<double>() == doctest::Approx(1.0));
  CHECK(unit.at("watchdog").at("age").to_number<double>() == doctest::Approx(1.0));
  CHECK_FALSE(unit.at("leaks").as_bool());
}
