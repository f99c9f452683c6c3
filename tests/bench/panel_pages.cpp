#include <algorithm>
#include <array>
#include <chrono>
#include <cstdint>
#include <cstdio>
#include <cstdlib>
#include <optional>
#include <string>
#include <thread>
#include <vector>

#include <modbus.h>

#include "sim/io/files/load.hpp"
#include "sim/io/line/wall_bench.hpp"
#include "sim/io/panel/panel_hub.hpp"
#include "sim/io/panel/panel_server.hpp"
#include "tests/bench/page_crowd.hpp"
#include "tests/bench/speed.hpp"

namespace emberline::speed {
namespace {

using Clock = std::chrono::steady_clock;
using Micros = std::chrono::duration<double, std::micro>;

constexpr int kPages = 50;
constexpr int kRounds = 12;  // of each kind, in turns
constexpr auto kRound = std::chrono::milliseconds{2500};
constexpr auto kCycle = std::chrono::milliseconds{2};  // of the master
constexpr int kUnit = 3;                               // cooling-heater
constexpr int kFirst = 1200;                           // its load_voltage, and nine floats more
constexpr int kCount = 20;

void give_up(const std::string& why) {
  std::fprintf(stderr, "%s\n", why.c_str());
  std::exit(3);
}

/// How long each answer of a master took that asks every few milliseconds, as programs do.
std::vector<double> answers_of(modbus_t* master) {
  std::vector<double> took;
  std::array<std::uint16_t, kCount> values{};
  const auto end = Clock::now() + kRound;
  for (auto next = Clock::now(); next < end; next += kCycle) {
    std::this_thread::sleep_until(next);
    const auto asked = Clock::now();
    if (modbus_read_input_registers(master, kFirst, kCount, values.data()) != kCount)
      give_up(std::string("a request failed: ") + modbus_strerror(errno));
    took.push_back(Micros(Clock::now() - asked).count());
  }
  return took;
}

double quantile(std::vector<double> values, double part) {
  const auto at = static_cast<std::ptrdiff_t>(part * static_cast<double>(values.size() - 1));
  std::nth_element(values.begin(), values.begin() + at, values.end());
  return values[static_cast<std::size_t>(at)];
}

struct Measured {
  std::vector<double> alone, watched;
  std::vector<double> ratios;  ///< of the p99 of two rounds that follow each other
  std::uint64_t messages = 0, held_back = 0, bytes = 0;
};

Measured measure(modbus_t* master, const io::PanelServer& server, int panel_port) {
  Measured measured;
  answers_of(master);  // warms up
  for (int round = 0; round < kRounds; ++round) {
    const auto alone = answers_of(master);
    const auto before = server.statistics();
    std::optional<PageCrowd> crowd(std::in_place, panel_port, kPages);
    const auto watched = answers_of(master);
    measured.bytes += crowd->bytes();
    crowd.reset();
    const auto after = server.statistics();
    measured.messages += after.messages - before.messages;
    measured.held_back += after.held_back - before.held_back;
    measured.ratios.push_back(quantile(watched, 0.99) / quantile(alone, 0.99));
    measured.alone.insert(measured.alone.end(), alone.begin(), alone.end());
    measured.watched.insert(measured.watched.end(), watched.begin(), watched.end());
    while (server.statistics().live_pages != 0) std::this_thread::yield();
  }
  return measured;
}

void print(const Measured& measured) {
  const double seconds = std::chrono::duration<double>(kRound).count() * kRounds;
  std::printf(
      "Answers over TCP while pages watch: a master asks every 2 ms, %d rounds of %.1f s each, in turns\n",
      kRounds, std::chrono::duration<double>(kRound).count());
  std::printf("  %-24s %10s %10s %10s %10s\n", "us", "p50", "p90", "p99", "p99.9");
  const auto row = [](const char* name, const std::vector<double>& took) {
    std::printf("  %-24s %10.0f %10.0f %10.0f %10.0f\n", name, quantile(took, 0.5), quantile(took, 0.9),
                quantile(took, 0.99), quantile(took, 0.999));
  };
  row("no page", measured.alone);
  row("50 pages at 10 Hz", measured.watched);
  std::printf("  ratio of p99: %.2f of all, %.2f median of the rounds (wanted: 1.2 at most)\n",
              quantile(measured.watched, 0.99) / quantile(measured.alone, 0.99),
              quantile(measured.ratios, 0.5));
  std::printf("  the pages got %.0f messages and %.1f MB a second; %llu were held back\n",
              static_cast<double>(measured.messages) / seconds,
              static_cast<double>(measured.bytes) / seconds / 1e6,
              static_cast<unsigned long long>(measured.held_back));
}

}  // namespace

void panel_pages() {
  auto spec = io::load_bench(EMBERLINE_SOURCE_DIR "/config/benches/annealing-lehr.yaml");
  if (!spec) give_up("the shipped bench does not load");
  bench::Bench bench(std::move(spec).value());
  bench::EventLoop loop;
  loop.add(bench::Rank::timers, bench.timers());
  loop.add(bench::Rank::grid, bench.grid());
  io::WallBench wall(bench, loop, {.private_lines = true});
  const auto lines = wall.open();
  if (!lines) give_up(lines.error());
  io::PanelHub hub({.version = "speed"});
  hub.attach(wall, bench, *lines);
  io::PanelAddress address;
  address.port = 0;
  io::PanelServer server(hub, address);
  const auto url = server.open();
  if (!url) give_up(url.error());
  std::thread serving([&wall] { wall.run(); });

  int port = 0;
  for (const auto& line : *lines)
    if (line.port != 0) port = line.port;
  modbus_t* master = modbus_new_tcp("127.0.0.1", port);
  modbus_set_slave(master, kUnit);
  if (modbus_connect(master) != 0) give_up(std::string("no connection: ") + modbus_strerror(errno));
  print(measure(master, server, std::atoi(url->c_str() + url->rfind(':') + 1)));
  modbus_close(master);
  modbus_free(master);

  server.close();
  wall.stop();
  serving.join();
  hub.detach();
}

}  // namespace emberline::speed
