// Masters that nobody here wrote on a serial port and on RTU over TCP.
#include <array>
#include <atomic>
#include <cstdio>
#include <thread>

#include <doctest/doctest.h>
#include <poll.h>

#include "sim/io/files/load.hpp"
#include "tests/interop/libmodbus_master.hpp"
#include "tests/sim/io/line/adapter.hpp"
#include "tests/sim/io/line/running.hpp"

using namespace emberline;
using namespace emberline::test;

namespace {

constexpr int kSetpoint = 0x0030;
constexpr int kBlock = 20;
constexpr int kRounds = 8;

/// A cable between two adapters: what goes in at one end comes out at the other.
class Cable {
 public:
  Cable(const Adapter& one, const Adapter& other) : ends_{one.far_end(), other.far_end()} {
    carrying_ = std::thread([this] { carry(); });
  }
  ~Cable() {
    end_ = true;
    carrying_.join();
  }
  Cable(const Cable&) = delete;
  Cable& operator=(const Cable&) = delete;

 private:
  void carry() {
    std::array<std::uint8_t, 256> bytes{};
    while (!end_) {
      std::array<struct pollfd, 2> state{{{ends_[0], POLLIN, 0}, {ends_[1], POLLIN, 0}}};
      ::poll(state.data(), state.size(), 20);
      for (const std::size_t from : {0U, 1U}) {
        const ssize_t count = ::read(ends_[from], bytes.data(), bytes.size());
        if (count > 0) {
          const ssize_t sent = ::write(ends_[1 - from], bytes.data(), static_cast<std::size_t>(count));
          lost_ = lost_ || sent != count;
        }
      }
    }
  }

  std::array<int, 2> ends_;
  std::atomic<bool> end_ = false;
  bool lost_ = false;
  std::thread carrying_;
};

std::string said_by(const std::string& command) {
  FILE* pipe = ::popen((command + " 2>&1").c_str(), "r");
  REQUIRE(pipe != nullptr);
  std::string words;
  std::array<char, 256> text{};
  while (std::fgets(text.data(), static_cast<int>(text.size()), pipe) != nullptr) {
    words += text.data();
  }
  return ::pclose(pipe) == 0 ? "" : words;
}

}  // namespace

TEST_CASE("libmodbus on its own adapter reads and writes units on ours, with a real slave's id between") {
  const Folder folder;
  const Adapter ours(folder / "ours");
  const Adapter theirs(folder / "theirs");
  bench::BenchSpec spec = small_bench();
  spec.lines[0].kind = bench::LineKind::serial_port;
  spec.lines[0].path = ours.path();
  spec.lines[0].serial = {19200, 8, 'N', 2};
  Running running(std::move(spec));
  running.go();
  const Cable cable(ours, theirs);
  auto master = LibmodbusMaster::pty(theirs.path());
  for (std::uint16_t i = 0; i < 20; ++i) {
    CHECK(master.write_one(1 + i % 2, kSetpoint, i));
    CHECK(master.read_holding(1 + i % 2, kSetpoint, 1) == std::vector<std::uint16_t>{i});
    if (i % 10 == 9) {  // nobody has this id: silence
      master.be_patient(0, 50'000);
      CHECK_FALSE(master.read_holding(9, kSetpoint, 1));
      CHECK(errno == ETIMEDOUT);
      master.be_patient(60, 0);
    }
  }
  CHECK(running.statistics().requests == 42);
  CHECK(running.statistics().answers == 40);
  CHECK(running.statistics().faults == 0);
}

TEST_CASE("pymodbus over a device server agrees with the bench") {
  auto table =
      io::load_register_table(std::string(EMBERLINE_SOURCE_DIR) + "/config/registers/short-blocks.yaml");
  REQUIRE(table);
  bench::BenchSpec spec;
  spec.lines = {tcp_spec("server")};
  spec.lines[0].kind = bench::LineKind::rtu_tcp;
  spec.units = {heater("heater", 3, {"server"})};
  spec.units[0].unit.table = *table;
  bench::IoBlockSpec block;
  block.name = "marshalling";
  block.id = kBlock;
  block.lines = {"server"};
  block.coils[3] = "heater.terminal.enable";
  block.discrete[3] = "heater.terminal.enable";
  spec.io_blocks = {block};
  Running running(std::move(spec));
  running.go();
  // Debian's own interpreter: python3-pymodbus is installed for no other.
  CHECK(said_by("/usr/bin/python3 '" EMBERLINE_SOURCE_DIR
                "/tests/interop/pymodbus_master.py' rtu-tcp 127.0.0.1:" +
                std::to_string(running.line("server").port) + " 3 " + std::to_string(kRounds)) == "");
  CHECK(running.statistics().requests == 16 * kRounds);
  CHECK(running.statistics().answers == 16 * kRounds);
  CHECK(running.statistics().faults == 0);
}
