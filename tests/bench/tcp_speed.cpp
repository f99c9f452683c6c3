#include <algorithm>
#include <array>
#include <atomic>
#include <chrono>
#include <cstdint>
#include <cstdio>
#include <cstdlib>
#include <thread>
#include <vector>

#include <modbus.h>

#include "sim/io/line/wall_bench.hpp"
#include "tests/bench/plain_server.hpp"
#include "tests/bench/small_bench.hpp"
#include "tests/bench/speed.hpp"

namespace emberline::speed {
namespace {

using Clock = std::chrono::steady_clock;
constexpr auto kRound = std::chrono::milliseconds{700};
constexpr int kRounds = 7;

/// A master that asks for ten registers as fast as it gets them, until `deadline`. Counts its answers.
std::uint64_t ask_until(modbus_t* master, Clock::time_point deadline) {
  std::array<std::uint16_t, kRegisters> values{};
  std::uint64_t answers = 0;
  while (Clock::now() < deadline) {
    if (modbus_read_registers(master, 0, kRegisters, values.data()) != kRegisters) {
      std::fprintf(stderr, "a request failed: %s\n", modbus_strerror(errno));
      std::exit(1);
    }
    ++answers;
  }
  return answers;
}

/// Requests a second of `connections` masters at once, each a thread of its own.
double requests_per_second(int port, int connections) {
  std::vector<modbus_t*> masters;
  for (int i = 0; i < connections; ++i) {
    modbus_t* master = modbus_new_tcp("127.0.0.1", port);
    modbus_set_slave(master, kUnitId);
    if (modbus_connect(master) != 0) {
      std::fprintf(stderr, "no connection: %s\n", modbus_strerror(errno));
      std::exit(1);
    }
    masters.push_back(master);
  }
  std::atomic<std::uint64_t> answers{0};
  const auto start = Clock::now();
  std::vector<std::thread> threads;
  for (modbus_t* master : masters)
    threads.emplace_back([&answers, master, start] { answers += ask_until(master, start + kRound); });
  for (auto& thread : threads) thread.join();
  const std::chrono::duration<double> took = Clock::now() - start;
  for (modbus_t* master : masters) {
    modbus_close(master);
    modbus_free(master);
  }
  return static_cast<double>(answers.load()) / took.count();
}

double median(std::vector<double> values) {
  std::sort(values.begin(), values.end());
  return values[values.size() / 2];
}

}  // namespace

void tcp_speed() {
  bench::Bench bench(small_bench(unit::FiringMode::phase_angle));
  bench::EventLoop loop;
  loop.add(bench::Rank::timers, bench.timers());
  loop.add(bench::Rank::grid, bench.grid());
  io::WallBench wall(bench, loop, {.private_lines = true});
  const auto lines = wall.open();
  if (!lines) {
    std::fprintf(stderr, "%s\n", lines.error().c_str());
    std::exit(3);
  }
  const int port = (*lines)[0].port;
  std::thread serving([&wall] { wall.run(); });
  {
    const PlainServer plain;
    std::printf(
        "Modbus TCP, function 03, %d registers, masters by libmodbus; requests a second, median of %d\n",
        kRegisters, kRounds);
    std::printf("  %-12s %12s %18s %8s\n", "connections", "emberline", "plain libmodbus", "ratio");
    for (const int connections : {1, 8}) {
      std::vector<double> ours;
      std::vector<double> theirs;
      for (int round = 0; round < kRounds; ++round) {  // in turns, so that both see the same machine
        ours.push_back(requests_per_second(port, connections));
        theirs.push_back(requests_per_second(plain.port(), connections));
      }
      std::printf("  %-12d %12.0f %18.0f %8.2f\n", connections, median(ours), median(theirs),
                  median(ours) / median(theirs));
    }
  }
  wall.stop();
  serving.join();
}

}  // namespace emberline::speed
