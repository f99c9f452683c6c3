#include <atomic>

#include <doctest/doctest.h>
#include <fcntl.h>

#include "sim/io/line/descriptor.hpp"
#include "tests/interop/libmodbus_master.hpp"
#include "tests/sim/io/line/running.hpp"

// The other side is libmodbus, which keeps to the MODBUS Application Protocol V1.1b3 by its own lights.

using namespace emberline;
using namespace emberline::test;

namespace {

constexpr int kSetpoint = 0x0030;
constexpr int kCurrent = 0x0040;
constexpr int kState = 0x0041;
constexpr int kBlock = 20;

LibmodbusMaster master_on(Running& running, const std::string& line) {
  return line == "field" ? LibmodbusMaster::pty(running.line("field").path)
                         : LibmodbusMaster::tcp(running.line(line).port);
}

}  // namespace

TEST_CASE("libmodbus reads what it wrote, over a pseudo-terminal and over TCP") {
  Running running(small_bench());
  running.go();
  for (const char* line : {"field", "ethernet"}) {
    CAPTURE(line);
    auto master = master_on(running, line);
    CHECK(master.write_one(1, kSetpoint, 123));
    CHECK(master.read_holding(1, kSetpoint, 1) == std::vector<std::uint16_t>{123});
    CHECK(running.setpoint(0) == doctest::Approx(0.123));
    CHECK(master.write(1, kSetpoint, {456}));
    CHECK(master.read_holding(1, kSetpoint, 1) == std::vector<std::uint16_t>{456});
    const auto both = master.read_holding(1, kCurrent, 2);
    REQUIRE(both);
    CHECK((*both)[1] == 2);  // stopped: nobody has closed the coil its enable terminal is wired to
  }
}

TEST_CASE("libmodbus understands our refusals") {
  Running running(small_bench());
  running.go();
  for (const char* line : {"field", "ethernet"}) {
    CAPTURE(line);
    auto master = master_on(running, line);
    CHECK_FALSE(master.read_holding(1, 0x0100, 1));
    CHECK(errno == EMBXILADD);  // Application Protocol V1.1b3, section 7: 02
    CHECK_FALSE(master.write_one(1, kState, 1));
    CHECK(errno == EMBXILADD);
    CHECK_FALSE(master.write_one(1, kSetpoint, 1001));
    CHECK(errno == EMBXILVAL);  // common practice, no source: 03 for a value out of range
    CHECK_FALSE(master.read_coil(1, 0));
    CHECK(errno == EMBXILADD);
    CHECK(master.read_holding(1, kSetpoint, 1));
  }
}

TEST_CASE("masters come and go fifty times on a pseudo-terminal; one at another speed hears nothing") {
  Running running(small_bench());
  running.go();
  std::uint64_t wrong = 0;
  // One that comes at another speed in the very moment in which the bench puts back the settings of one that
  // went would lose its own. So another opening bridges these.
  io::Descriptor bridge;
  for (std::uint16_t i = 0; i < 50; ++i) {
    const bool in_tune = i % 10 != 9;
    auto master = LibmodbusMaster::pty(running.line("field").path, in_tune ? 19200 : 9600);
    bridge.close();
    if (in_tune) {
      CHECK(master.write_one(2, kSetpoint, i));
      CHECK(master.read_holding(2, kSetpoint, 1) == std::vector<std::uint16_t>{i});
      if (i % 10 == 8) bridge = io::Descriptor(::open(running.line("field").path.c_str(), O_RDWR | O_NOCTTY));
      continue;
    }
    master.be_patient(0, 100'000);
    CHECK_FALSE(master.write_one(2, kSetpoint, 999));
    CHECK(errno == ETIMEDOUT);
    ++wrong;
    running.until([&](const auto& seen) { return seen.faults == wrong; });
  }
  CHECK(running.statistics().requests == 90);
  CHECK(running.setpoint(1) == doctest::Approx(0.048));
  CHECK(running.journal("9600 bit/s").size() == 5);
}

TEST_CASE("eight masters at once on TCP and one on the pseudo-terminal get each its own answers") {
  bench::BenchSpec spec = small_bench();
  spec.units.clear();
  for (int id = 1; id <= 9; ++id) {
    spec.units.push_back(heater("heater" + std::to_string(id), id, {"field", "ethernet"}));
  }
  spec.io_blocks.clear();
  Running running(std::move(spec));
  running.go();
  std::atomic<int> disagreed{0};
  std::vector<std::thread> threads;
  for (int id = 1; id <= 9; ++id) {
    threads.emplace_back([&, id] {
      auto master = id == 9 ? LibmodbusMaster::pty(running.line("field").path)
                            : LibmodbusMaster::tcp(running.line("ethernet").port);
      const int rounds = id == 9 ? 20 : 100;
      for (int i = 0; i < rounds; ++i) {
        const auto value = static_cast<std::uint16_t>(100 * id + i);
        const std::vector<std::uint16_t> expected{value};
        if (!master.write_one(id, kSetpoint, value) || master.read_holding(id, kSetpoint, 1) != expected) {
          ++disagreed;
        }
      }
    });
  }
  for (auto& thread : threads) {
    thread.join();
  }
  CHECK(disagreed == 0);
  CHECK(running.statistics().requests == 2 * (8 * 100 + 20));
  CHECK(running.statistics().connections == 9);
}

TEST_CASE("one unit on two lines is one unit") {
  Running running(small_bench());
  running.go();
  auto field = LibmodbusMaster::pty(running.line("field").path);
  auto ethernet = LibmodbusMaster::tcp(running.line("ethernet").port);
  CHECK(field.write_one(1, kSetpoint, 250));
  CHECK(ethernet.read_holding(1, kSetpoint, 1) == std::vector<std::uint16_t>{250});
  CHECK(ethernet.write_one(1, kSetpoint, 750));
  CHECK(field.read_holding(1, kSetpoint, 1) == std::vector<std::uint16_t>{750});
}

TEST_CASE("an io-block's coils, inputs and registers are wired to the bench") {
  Running running(small_bench());
  running.go();
  auto master = LibmodbusMaster::tcp(running.line("ethernet").port);
  // Wired to a coil: open until it is written.
  CHECK(master.read_coil(kBlock, 0) == false);
  CHECK(master.read_discrete(kBlock, 0) == false);
  CHECK(master.read_holding(1, kState, 1) == std::vector<std::uint16_t>{2});  // stopped
  CHECK(master.write_coil(kBlock, 0, true));
  CHECK(master.read_discrete(kBlock, 0) == true);
  CHECK(master.read_holding(1, kState, 1) == std::vector<std::uint16_t>{3});  // running
  CHECK(master.write_coils(kBlock, 0, {0}));
  CHECK(master.read_coil(kBlock, 0) == false);
  CHECK(master.write_one(1, kSetpoint, 321));
  CHECK(master.read_input(kBlock, 0, 1) == std::vector<std::uint16_t>{321});
}

TEST_CASE("a pulled cable is no answer to libmodbus, and a cable put back is one again") {
  Running running(small_bench());
  running.go();
  for (const char* line : {"field", "ethernet"}) {
    CAPTURE(line);
    const std::size_t index = std::string(line) == "field" ? 0 : 1;
    auto master = master_on(running, line);
    CHECK(master.read_holding(1, kSetpoint, 1));
    running.set_cut(index, true);
    master.be_patient(0, 50000);
    CHECK_FALSE(master.read_holding(1, kSetpoint, 1));
    CHECK(errno == ETIMEDOUT);
    if (index == 0) {
      running.until([](const auto& seen) { return seen.swallowed == 8; });
    }
    running.set_cut(index, false);
    if (index == 1) {
      // The request of before is answered now; a master that keeps its connection reads that answer first.
      running.until([](const auto& seen) { return seen.requests == 4; });
      master = master_on(running, line);
    }
    master.be_patient(60, 0);
    CHECK(master.read_holding(1, kSetpoint, 1));
  }
}
