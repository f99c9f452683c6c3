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

/// Three units with the table that ships, an io-block with an enable coil for each, all on three lines.
bench::BenchSpec three_lines() {
  const auto table =
      io::load_register_table(std::string(EMBERLINE_SOURCE_DIR) + "/config/registers/short-blocks.yaml");
  REQUIRE(table);
  const std::vector<std::string> lines{"field", "service", "ethernet"};
  bench::BenchSpec spec;
  spec.lines = {pty_spec("field"), pty_spec("service"), tcp_spec("ethernet")};
  bench::IoBlockSpec block;
  block.name = "marshalling";
  block.id = kBlock;
  block.lines = lines;
  for (int id = 1; id <= 3; ++id) {
    const std::string name = "heater" + std::to_string(id);
    spec.units.push_back(heater(name, id, lines));
    spec.units.back().unit.table = *table;
    block.coils[static_cast<std::uint16_t>(id)] = name + ".terminal.enable";
    block.discrete[static_cast<std::uint16_t>(id)] = name + ".terminal.enable";
  }
  spec.io_blocks = {block};
  return spec;
}

struct Outcome {
  bool well;
  std::string words;
};

Outcome run_pymodbus(const std::string& kind, const std::string& where, int unit, int rounds) {
  // Debian's own interpreter: python3-pymodbus is installed for no other.
  const std::string command = "/usr/bin/python3 '" + std::string(EMBERLINE_SOURCE_DIR) +
                              "/tests/interop/pymodbus_master.py' " + kind + " '" + where + "' " +
                              std::to_string(unit) + " " + std::to_string(rounds) + " 2>&1";
  FILE* pipe = ::popen(command.c_str(), "r");
  if (pipe == nullptr) {
    return {false, "cannot run /usr/bin/python3"};
  }
  std::string words;
  char text[256];
  while (std::fgets(text, sizeof(text), pipe) != nullptr) {
    words += text;
  }
  return {::pclose(pipe) == 0, words};
}

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

TEST_CASE("libmodbus and pymodbus on two pseudo-terminals and TCP agree with the bench at the same time") {
  Running running(three_lines());
  running.go();
  const std::string tcp = "127.0.0.1:" + std::to_string(running.line("ethernet").port);
  auto field = std::async(std::launch::async,
                          [&] { return run_libmodbus(running.line("field").path, 1, kPtyRounds); });
  auto service = std::async(std::launch::async,
                            [&] { return run_pymodbus("pty", running.line("service").path, 2, kPtyRounds); });
  auto ethernet = std::async(std::launch::async, [&] { return run_pymodbus("tcp", tcp, 3, kTcpRounds); });
  const Outcome by_field = field.get();
  const Outcome by_service = service.get();
  const Outcome by_ethernet = ethernet.get();
  CHECK_MESSAGE(by_field.well, "libmodbus over the pty: " << by_field.words);
  CHECK_MESSAGE(by_service.well, "pymodbus over the pty: " << by_service.words);
  CHECK_MESSAGE(by_ethernet.well, "pymodbus over TCP: " << by_ethernet.words);

  CHECK(running.setpoint(0) == doctest::Approx(0.001 * (400 + kPtyRounds - 1)));
  CHECK(running.setpoint(1) == doctest::Approx(0.001 * (500 + kPtyRounds - 1)));
  CHECK(running.setpoint(2) == doctest::Approx(0.001 * (600 + kTcpRounds - 1)));
  const auto seen = running.statistics();
  CHECK(seen.requests == 12 * kPtyRounds + 16 * (kPtyRounds + kTcpRounds));
  CHECK(seen.faults == 0);
  CHECK(seen.connections == 2 * kPtyRounds + 1);
}
