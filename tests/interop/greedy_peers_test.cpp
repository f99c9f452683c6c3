// TCP peers that are stalled, greedy or in a hurry, and a well-behaved master (libmodbus) among them that has
// to be answered each time. How long an answer takes is printed, not judged: it is the machine's business.
#include <algorithm>
#include <filesystem>

#include <doctest/doctest.h>
#include <netinet/tcp.h>

#include "tests/interop/libmodbus_master.hpp"
#include "tests/sim/io/line/raw_master.hpp"

using namespace emberline;
using namespace emberline::test;

namespace {

constexpr std::size_t kEthernet = 1;
constexpr int kSetpoint = 0x0030;
constexpr int kAsks = 100;

bench::BenchSpec bench_for(int max_connections) {
  bench::BenchSpec spec = small_bench();
  spec.lines[kEthernet].max_connections = max_connections;
  return spec;
}

std::size_t open_descriptors() {
  std::size_t count = 0;
  for ([[maybe_unused]] const auto& entry : std::filesystem::directory_iterator("/proc/self/fd")) {
    ++count;
  }
  return count;
}

/// A well-behaved master: asks, gets its answer, asks again.
class Good {
 public:
  explicit Good(Running& running) : master_(LibmodbusMaster::tcp(running.line("ethernet").port)) {
    ask();
    times_.clear();
  }
  void ask() {
    const auto value = static_cast<std::uint16_t>(asked_++ % 1000);
    const auto before = std::chrono::steady_clock::now();
    const bool well = master_.write_one(1, kSetpoint, value) &&
                      master_.read_holding(1, kSetpoint, 1) == std::vector<std::uint16_t>{value};
    times_.push_back(std::chrono::steady_clock::now() - before);
    REQUIRE(well);
  }
  /// The median time of two answers since the last call, in microseconds.
  double median_us() {
    REQUIRE_FALSE(times_.empty());
    const auto middle = times_.begin() + static_cast<std::ptrdiff_t>(times_.size() / 2);
    std::nth_element(times_.begin(), middle, times_.end());
    const double median = std::chrono::duration<double, std::micro>(*middle).count();
    times_.clear();
    return median;
  }
  double alone_us() {
    for (int i = 0; i < kAsks; ++i) {
      ask();
    }
    return median_us();
  }

 private:
  LibmodbusMaster master_;
  std::vector<std::chrono::steady_clock::duration> times_;
  unsigned asked_ = 0;
};

void report(const std::string& crowd, double alone_us, double among_us) {
  MESSAGE(crowd << ": a write and a read take " << among_us << " us, alone " << alone_us << " us, ratio "
                << among_us / alone_us);
}

/// A peer that has not asked for anything yet. `small`: its system takes in next to nothing that it does not
/// read.
RawMaster peer(std::uint16_t port, bool small = false) {
  RawMaster master(::socket(AF_INET, SOCK_STREAM | SOCK_CLOEXEC, 0));
  if (small) {
    const int size = 2048;
    REQUIRE(::setsockopt(master.descriptor(), SOL_SOCKET, SO_RCVBUF, &size, sizeof(size)) == 0);
  }
  struct sockaddr_in address {};
  address.sin_family = AF_INET;
  address.sin_port = htons(port);
  address.sin_addr.s_addr = htonl(INADDR_LOOPBACK);
  REQUIRE(::connect(master.descriptor(), reinterpret_cast<sockaddr*>(&address), sizeof(address)) == 0);
  return master;
}

void wait_for_descriptors(std::size_t count) {
  const Deadline deadline;
  while (open_descriptors() != count) {
    deadline.check();
    std::this_thread::yield();
  }
}

}  // namespace

TEST_CASE("peers that send a byte at a time and never finish a request keep nobody waiting") {
  Running running(bench_for(8));
  running.go();
  Good good(running);
  const double alone_us = good.alone_us();
  const auto before = open_descriptors();
  {
    std::vector<RawMaster> slow;
    slow.reserve(7);
    for (int i = 0; i < 7; ++i) {
      slow.push_back(peer(running.line("ethernet").port));
    }
    // The longest write there is, 123 registers: its 259 bytes never get complete here.
    Bytes request{0, 1, 0, 0, 0, 253, 1, 0x10, 0, 0x30, 0, 123, 246};
    request.resize(259);
    for (std::size_t byte = 0; byte < 258; ++byte) {
      for (const auto& master : slow) {
        master.send({request[byte]});
      }
      good.ask();
    }
    report("seven that send a byte at a time", alone_us, good.median_us());
    CHECK(running.statistics().requests == 2 * (1 + kAsks + 258));
    CHECK(running.statistics().faults == 0);
  }
  wait_for_descriptors(before);
}

TEST_CASE("peers that never finish a request lose their place where a time-out is set") {
  bench::BenchSpec spec = bench_for(3);
  spec.lines[kEthernet].idle_timeout = std::chrono::milliseconds{300};
  Running running(std::move(spec));
  running.go();
  const std::uint16_t port = running.line("ethernet").port;
  const auto slow = peer(port);
  const auto mute = peer(port);
  const auto half = peer(port);
  slow.send({0, 1, 0});
  half.send({0, 1, 0, 0, 0, 6, 1, 3});
  for (const auto* master : {&slow, &mute, &half}) {
    CHECK(master->receive(1).empty());  // closed
  }
  CHECK(running.journal("idle_timeout").size() == 1);
  Good good(running);  // there is room again
  good.ask();
}

TEST_CASE("a master that keeps asking is never closed for being idle") {
  bench::BenchSpec spec = bench_for(1);
  spec.lines[kEthernet].idle_timeout = std::chrono::seconds{30};
  Running running(std::move(spec));
  running.go();
  Good good(running);
  good.alone_us();
  CHECK(running.statistics().connections == 1);
  CHECK(running.journal("idle_timeout").empty());
}

TEST_CASE("peers that never read their answers are closed in the end, and others are answered meanwhile") {
  bench::BenchSpec spec = bench_for(8);
  spec.units[0].unit.identity = modbus::basic_identity(std::string(200, 'E'), "virtual-unit", "1.0");
  Running running(std::move(spec));
  running.go();
  Good good(running);
  const double alone_us = good.alone_us();
  const auto before = open_descriptors();
  {
    std::vector<RawMaster> deaf;
    deaf.reserve(7);
    for (int i = 0; i < 7; ++i) {
      deaf.push_back(peer(running.line("ethernet").port, true));
      REQUIRE(::fcntl(deaf.back().descriptor(), F_SETFL, O_NONBLOCK) == 0);
    }
    Bytes many;  // short questions with long answers: who are you?
    for (int i = 0; i < 100; ++i) {
      const Bytes one{0, 1, 0, 0, 0, 5, 1, 0x2B, 0x0E, 0x01, 0x00};
      many.insert(many.end(), one.begin(), one.end());
    }
    std::vector<std::size_t> at(deaf.size(), 0);
    std::vector<bool> closed(deaf.size(), false);
    const Deadline deadline;
    while (std::find(closed.begin(), closed.end(), false) != closed.end()) {
      deadline.check();
      for (std::size_t i = 0; i < deaf.size(); ++i) {
        if (closed[i]) {
          continue;
        }
        const ssize_t sent =
            ::send(deaf[i].descriptor(), many.data() + at[i], many.size() - at[i], MSG_NOSIGNAL);
        closed[i] = sent < 0 && errno != EAGAIN;
        at[i] = sent < 0 ? at[i] : (at[i] + static_cast<std::size_t>(sent)) % many.size();
      }
      good.ask();
    }
    report("seven that never read", alone_us, good.median_us());
    CHECK(running.journal("does not read").size() == 1);  // said once for the line
  }
  wait_for_descriptors(before);
}

TEST_CASE("five hundred peers at once: as many as allowed get in, the refusal is said once") {
  for (const int limit : {8, 100}) {
    CAPTURE(limit);
    Running running(bench_for(limit));
    running.go();
    Good good(running);
    const double alone_us = good.alone_us();
    const auto before = open_descriptors();
    {
      std::vector<RawMaster> crowd;
      for (int i = 0; i < 500; ++i) {
        crowd.push_back(peer(running.line("ethernet").port));
        if (i % 50 == 0) {
          good.ask();
        }
      }
      for (int i = 0; i < kAsks; ++i) {
        good.ask();
      }
      report("five hundred at once", alone_us, good.median_us());
      running.until([&](const auto& seen) { return seen.connections == static_cast<std::uint64_t>(limit); });
      CHECK(running.journal("refused").size() == 1);
      CHECK(running.journal("it takes " + std::to_string(limit) + " connections at a time").size() == 1);
      // Who is in is served, who is not is told so.
      const auto in = static_cast<std::size_t>(limit) - 1;
      crowd[0].send({0, 1, 0, 0, 0, 6, 1, 0x03, 0x00, 0x30, 0x00, 0x01});
      CHECK(crowd[0].receive(11).size() == 11);
      CHECK(crowd[in].receive(1).empty());
      CHECK(crowd.back().receive(1).empty());
      CHECK(running.statistics().connections == static_cast<std::uint64_t>(limit));
    }
    wait_for_descriptors(before);
  }
}

TEST_CASE("ten thousand connections opened and closed leave nothing behind, and others are answered") {
  Running running(bench_for(8));
  running.go();
  const std::uint16_t port = running.line("ethernet").port;
  Good good(running);
  const double alone_us = good.alone_us();
  const auto before = open_descriptors();
  for (int i = 0; i < 10'000; ++i) {
    const auto hasty = peer(port);
    // Most go with a reset: the ports of those that take leave are not free for a minute.
    const struct linger at_once { i % 8 != 0, 0 };
    REQUIRE(::setsockopt(hasty.descriptor(), SOL_SOCKET, SO_LINGER, &at_once, sizeof(at_once)) == 0);
    if (i % 3 == 0) {
      hasty.send({0, 1, 0, 0, 0, 6, 1, 0x03, 0x00, 0x30, 0x00, 0x01});
    }
    if (i % 20 == 0) {
      good.ask();
    }
  }
  report("ten thousand in a hurry", alone_us, good.median_us());
  good.ask();
  wait_for_descriptors(before);
  CHECK(running.journal("refused").size() <= 1);
  // All of them are one master, whatever ports they came from.
  const auto pairs = [](bench::Bench& bench, SimTime) { return bench.traffic().pairs.size(); };
  CHECK(running.ask(pairs) == 1);
  const auto last = RawMaster::tcp(port);
  last.send({0, 1, 0, 0, 0, 6, 1, 0x03, 0x00, 0x30, 0x00, 0x01});
  CHECK(last.receive(11).size() == 11);
}
