#include <cstdio>
#include <future>

#include <doctest/doctest.h>
#include <sys/wait.h>

#include "sim/io/files/load.hpp"
#include "tests/interop/libmodbus_master.hpp"
#include "tests/sim/io/line/running.hpp"

using namespace emberline;
using namespace emberline::test;

namespace {

constexpr int kSetpoint = 0x0030;
constexpr int kState = 0x0041;
constexpr int kBlock = 20;
constexpr int kPtyRounds = 8;
constexpr int kTcpRounds = 40;
constexpr int kFloats = 100;  // added to the id of a unit for that of its fellow with another table

std::shared_ptr<const registers::RegisterTable> shipped_table(const std::string& name) {
  auto table = io::load_register_table(std::string(EMBERLINE_SOURCE_DIR) + "/config/registers/" + name);
  REQUIRE(table);
  return std::move(table).value();
}

/// Five units with one of the tables that ship, two more with the other, an io-block with an enable coil for
/// each of the five, all on four lines.
bench::BenchSpec four_lines() {
  const auto table = shipped_table("short-blocks.yaml");
  const std::vector<std::string> lines{"field", "service", "workshop", "ethernet"};
  bench::BenchSpec spec;
  spec.lines = {pty_spec("field"), pty_spec("service"), pty_spec("workshop"), tcp_spec("ethernet")};
  bench::IoBlockSpec block;
  block.name = "marshalling";
  block.id = kBlock;
  block.lines = lines;
  for (int id = 1; id <= 5; ++id) {
    const std::string name = "heater" + std::to_string(id);
    spec.units.push_back(heater(name, id, lines));
    spec.units.back().unit.table = table;
    block.coils[static_cast<std::uint16_t>(id)] = name + ".terminal.enable";
    block.discrete[static_cast<std::uint16_t>(id)] = name + ".terminal.enable";
  }
  spec.io_blocks = {block};
  for (int id : {4, 5}) {
    spec.units.push_back(heater("floats" + std::to_string(id), id + kFloats, lines));
    spec.units.back().unit.table = shipped_table("float-pairs.yaml");
  }
  return spec;
}

struct Outcome {
  bool well;
  std::string words;
};

Outcome run(const std::string& program, const std::string& kind, const std::string& where, int unit,
            int rounds) {
  const std::string command = program + " " + kind + " '" + where + "' " + std::to_string(unit) + " " +
                              std::to_string(rounds) + " 2>&1";
  FILE* pipe = ::popen(command.c_str(), "r");
  if (pipe == nullptr) {
    return {false, "cannot run " + program};
  }
  std::string words;
  char text[256];
  while (std::fgets(text, sizeof(text), pipe) != nullptr) {
    words += text;
  }
  return {::pclose(pipe) == 0, words};
}

const std::string kHere = std::string(EMBERLINE_SOURCE_DIR) + "/tests/interop";
// Debian's own interpreter: python3-pymodbus is installed for no other.
const std::string kPymodbus = "/usr/bin/python3 '" + kHere + "/pymodbus_master.py'";
// Where tests/setup.sh installs it.
const std::string kModbusSerial = "NODE_PATH='" + std::string(EMBERLINE_SOURCE_DIR) +
                                  "/build/node/node_modules' node '" + kHere +
                                  "/node/modbus_serial_master.js'";

Outcome run_libmodbus(const std::string& path, int unit, int rounds) {
  for (int i = 0; i < rounds; ++i) {
    auto master = LibmodbusMaster::pty(path);  // comes anew each time
    const auto first = static_cast<std::uint16_t>(100 * unit + i);
    const auto second = static_cast<std::uint16_t>(300 + first);
    const auto got = [&](bool well, const char* what) { return well ? nullptr : what; };
    const std::vector<std::uint16_t> one{first};
    const std::vector<std::uint16_t> two{second, 0};
    for (const char* wrong :
         {got(master.write_one(unit, kSetpoint, first), "write one register"),
          got(master.read_holding(unit, kSetpoint, 1) == one, "read holding"),
          got(master.read_input(unit, kSetpoint, 1) == one, "read input"),
          got(master.write(unit, kSetpoint, {second, 0}), "write registers"),
          got(master.read_holding(unit, kSetpoint, 2) == two, "read holding again"),
          got(!master.read_holding(unit, 0x0200, 1) && errno == EMBXILADD, "unmapped address"),
          got(!master.write_one(unit, kState, 1) && errno == EMBXILADD, "read-only address"),
          got(!master.write_one(unit, kSetpoint, 1001) && errno == EMBXILVAL, "value out of range"),
          got(master.write_coil(kBlock, unit, true), "write coil"),
          got(master.read_coil(kBlock, unit) == true, "read coil"),
          got(master.write_coils(kBlock, unit, {0}), "write coils"),
          got(master.read_discrete(kBlock, unit) == false, "read discrete input")}) {
      if (wrong != nullptr) {
        return {false, std::string(wrong) + " in round " + std::to_string(i)};
      }
    }
  }
  return {true, ""};
}

}  // namespace

TEST_CASE("three libraries on three pseudo-terminals and TCP agree with the bench at the same time") {
  Running running(four_lines());
  running.go();
  const std::string tcp = "127.0.0.1:" + std::to_string(running.line("ethernet").port);
  struct Master {
    const char* name;
    std::size_t unit;  // its id
    int rounds;
    std::future<Outcome> outcome;
  };
  const auto start = [](auto work) { return std::async(std::launch::async, work); };
  const auto path = [&](const char* line) { return running.line(line).path; };
  Master masters[] = {
      {"libmodbus over a pty", 1, kPtyRounds,
       start([&] { return run_libmodbus(path("field"), 1, kPtyRounds); })},
      {"pymodbus over a pty", 2, kPtyRounds,
       start([&] { return run(kPymodbus, "pty", path("service"), 2, kPtyRounds); })},
      {"pymodbus over TCP", 3, kTcpRounds, start([&] { return run(kPymodbus, "tcp", tcp, 3, kTcpRounds); })},
      {"modbus-serial over a pty", 4, kPtyRounds,
       start([&] { return run(kModbusSerial, "pty", path("workshop"), 4, kPtyRounds); })},
      {"modbus-serial over TCP", 5, kTcpRounds,
       start([&] { return run(kModbusSerial, "tcp", tcp, 5, kTcpRounds); })}};
  for (auto& master : masters) {
    CAPTURE(std::string(master.name));
    const Outcome outcome = master.outcome.get();
    CHECK_MESSAGE(outcome.well, outcome.words);
    const double last_permille = 300.0 + 100.0 * static_cast<double>(master.unit) + master.rounds - 1;
    CHECK(running.setpoint(master.unit - 1) == doctest::Approx(0.001 * last_permille));
  }
  CHECK(running.setpoint(5) == doctest::Approx(0.01 * (kPtyRounds - 0.9)));
  CHECK(running.setpoint(6) == doctest::Approx(0.01 * (kTcpRounds - 0.9)));
  const auto seen = running.statistics();
  CHECK(seen.requests == 12 * kPtyRounds + (16 + 19) * (kPtyRounds + kTcpRounds));
  CHECK(seen.faults == 0);
  CHECK(seen.connections == 3 * kPtyRounds + 2);
}
