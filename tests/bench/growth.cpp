#include <algorithm>
#include <array>
#include <cerrno>
#include <cstdio>
#include <filesystem>
#include <fstream>
#include <iterator>
#include <string>

#include <modbus.h>
#include <unistd.h>

#include "tests/bench/child.hpp"
#include "tests/bench/many_units.hpp"
#include "tests/bench/speed.hpp"

namespace emberline::speed {
namespace {

constexpr auto kPatience = std::chrono::seconds{20};
constexpr auto kSteady = std::chrono::milliseconds{2500};

struct Grown {
  double ready_ms = 0.0;
  double resident_kB = 0.0;
  double idle_share = 0.0;    ///< of a processor, before anybody has asked for heat
  double steady_share = 0.0;  ///< in steady firing
  bool in_shares = false;
  bool keeps_up = true;  ///< every unit took its setpoint in time
};

double share_of_processor(const Served& served) {
  const auto before = processor_ns(served.process());
  const auto start = Clock::now();
  ::usleep(static_cast<useconds_t>(std::chrono::microseconds(kSteady).count()));
  const auto after = processor_ns(served.process());
  const std::chrono::duration<double, std::nano> took = Clock::now() - start;
  if (!before || !after) give_up("the system does not say what time of the processors a process takes");
  return (*after - *before) / took.count();
}

/// Writes a setpoint of 40 to 60 % to every unit, over its line; false when that takes longer than kPatience.
bool fire(const Served& served, const ManyUnits& bench) {
  constexpr int kSetpoint = 16;
  const auto end = Clock::now() + kPatience;
  for (int line = 0; line < bench.lines; ++line) {
    const auto name = line_name(line);
    modbus_t* master = is_pty(line) ? modbus_new_rtu(served.path(name).c_str(), 19200, 'E', 8, 1)
                                    : modbus_new_tcp("127.0.0.1", served.port(name));
    modbus_set_response_timeout(master, 20, 0);
    if (modbus_connect(master) != 0) give_up(name + ": " + modbus_strerror(errno));
    bool in_time = true;
    for (int unit = line; unit < bench.units && in_time; unit += bench.lines) {
      modbus_set_slave(master, id_of(unit, bench.lines));
      const auto setpoint = static_cast<std::uint16_t>(400 + unit * 37 % 200);
      const bool taken = modbus_write_register(master, kSetpoint, setpoint) == 1;
      in_time = Clock::now() < end;
      if (!taken && in_time)
        broken("unit " + std::to_string(unit) + " does not take its setpoint: " + modbus_strerror(errno));
    }
    modbus_close(master);
    modbus_free(master);
    if (!in_time) return false;
  }
  return true;
}

Served start(const std::vector<std::string>& files) {
  if (files.size() > 1) return Served(files);
  return Served(files.front(), {"--panel", "127.0.0.1:0"});
}

Grown grow(const ManyUnits& bench, int starts) {
  static int made = 0;
  const auto folder = temporary_folder() + "/grow" + std::to_string(++made);
  std::filesystem::create_directory(folder);
  const auto files = write_many_units(bench, folder);
  std::vector<double> ready_ms;
  for (int n = 1; n < starts; ++n) ready_ms.push_back(start(files).took_to_be_ready().count());
  const auto served = start(files);
  ready_ms.push_back(served.took_to_be_ready().count());
  ::sleep(2);  // start_up of the units
  Grown grown;
  grown.idle_share = share_of_processor(served);
  grown.keeps_up = fire(served, bench);
  ::sleep(3);  // ramps, and windows of averages
  grown.steady_share = share_of_processor(served);
  grown.resident_kB = resident_kB(served.process());
  grown.ready_ms = median(ready_ms);
  grown.in_shares = files.size() > 1;
  served.child().require_alive();
  return grown;
}

/// The shipped bench, on a port and a pseudo-terminal that nobody else uses.
double demo_ready_ms() {
  std::ifstream file(EMBERLINE_SOURCE_DIR "/config/benches/annealing-lehr.yaml");
  std::string text{std::istreambuf_iterator<char>(file), {}};
  const auto put = [&text](const std::string& what, const std::string& instead) {
    for (auto at = text.find(what); at != std::string::npos; at = text.find(what, at + instead.size()))
      text.replace(at, what.size(), instead);
  };
  put("/tmp/emberline/field", temporary_folder() + "/field");
  put("127.0.0.1:1502", "127.0.0.1:0");
  put("../registers/", EMBERLINE_SOURCE_DIR "/config/registers/");
  const auto path = temporary_folder() + "/demo.yaml";
  std::ofstream(path) << text;
  std::vector<double> ready_ms;
  for (int n = 0; n < 2 * wanted().rounds + 1; ++n)
    ready_ms.push_back(Served(path, {"--panel", "127.0.0.1:0"}).took_to_be_ready().count());
  return median(ready_ms);
}

}  // namespace

void growth() {
  Table ready({"bench", "units", "lines", "ready ms", "MB", "kB a unit", "idle", "in steady firing"});
  ready.row({"annealing-lehr.yaml", "3", "2", number(demo_ready_ms(), 1), "-", "-", "-", "-"});
  struct Row {
    const char* name;
    ManyUnits bench;
    int starts;
  };
  const std::string angle = "phase-angle", spread = "burst-spread", star = "star-4-wire",
                    wires = "star-3-wire";
  const std::array rows{Row{"star-4-wire, phase-angle", {1, 1, angle, star}, 9},
                        Row{"", {10, 1, angle, star}, 9},
                        Row{"", {100, 1, angle, star}, 5},
                        Row{"", {100, 100, angle, star}, 5},
                        Row{"", {1000, 5, angle, star}, 5},
                        Row{"", {1000, 50, angle, star}, 5},
                        Row{"", {1000, 500, angle, star}, 5},
                        Row{"the same behind one source", {1000, 50, angle, star, true}, 1},
                        Row{"star-3-wire, phase-angle, walls", {1000, 50, angle, wires, false, true}, 1},
                        Row{"star-4-wire, burst-spread", {1000, 50, spread, star}, 1},
                        Row{"star-3-wire, burst-spread, walls", {1000, 50, spread, wires, false, true}, 1},
                        Row{"star-4-wire, phase-angle", {10000, 50, angle, star}, 1},
                        Row{"", {10000, 500, angle, star}, 1}};
  double one_kB = 0.0;
  for (const auto& row : rows) {
    std::fprintf(stderr, "grow: %d units on %d lines\n", row.bench.units, row.bench.lines);  // takes minutes
    const auto grown = grow(row.bench, row.starts);
    if (row.bench.units == 1) one_kB = grown.resident_kB;
    const double each_kB = (grown.resident_kB - one_kB) / std::max(row.bench.units - 1, 1);
    ready.row({row.name, number(row.bench.units) + (grown.in_shares ? " *" : ""), number(row.bench.lines),
               number(grown.ready_ms, 1), number(grown.resident_kB / 1024, 1),
               row.bench.units == 1 ? "-" : number(each_kB, 1), number(100 * grown.idle_share, 1) + " %",
               grown.keeps_up ? number(100 * grown.steady_share, 1) + " %" : "does not keep up"});
  }
  ready.print(
      "From one unit to ten thousand",
      "Ready: from before the process is made until its ready file is there, median of several starts. Every "
      "tenth line is a pseudo-terminal. kB a unit: what is more than with one unit, each. Shares are of one "
      "processor. Wanted: the demo within 50 ms, 1,000 units within 500 ms, 40 kB a unit, 1,000 units below "
      "10 %. *: unit by unit that is more than a bench file may hold; several files as one bench in a "
      "process of this program, "
      "without control and panel.");
}

}  // namespace emberline::speed
