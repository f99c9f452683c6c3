#include "sim/io/master/wall_masters.hpp"

#include <algorithm>
#include <chrono>
#include <condition_variable>
#include <functional>
#include <mutex>
#include <string>
#include <vector>

#include <doctest/doctest.h>

#include "tests/sim/io/master/plain_slave.hpp"

namespace emberline::io {
namespace {

using namespace std::chrono_literals;

/// Collects what stand-ins note, and waits for it.
class Notes {
 public:
  void add(const std::string& who, const std::string& sentence) {
    const std::lock_guard lock(mutex_);
    all_.push_back(who + ": " + sentence);
    changed_.notify_all();
  }
  /// Waits until somebody notes this; false after 20 s.
  [[nodiscard]] bool wait_for(const std::string& note) {
    std::unique_lock lock(mutex_);
    return changed_.wait_for(lock, 20s,
                             [&] { return std::find(all_.begin(), all_.end(), note) != all_.end(); });
  }

 private:
  std::mutex mutex_;
  std::condition_variable changed_;
  std::vector<std::string> all_;
};

std::function<SimTime()> clock_from_now() {
  return [begin = std::chrono::steady_clock::now()] {
    return SimTime{std::chrono::duration_cast<Duration>(std::chrono::steady_clock::now() - begin)};
  };
}

rehearsal::Target holding(std::uint16_t address, const std::string& line) {
  rehearsal::Target target;
  target.slave_name = "heater";
  target.name = "heater.setpoint";
  target.lines = {line};
  target.row.address = address;
  target.row.layout.scale = 0.001;
  target.info.dimension = Dimension::ratio;
  return target;
}

rehearsal::ProgramStep polls(const rehearsal::Target& target) {
  rehearsal::ProgramStep step;
  step.every = 5ms;
  step.reads = {target};
  return step;
}

LineAddress line_to(const PlainSlave& slave) {
  LineAddress line;
  line.name = "line";
  line.rtu = slave.port() == 0;
  line.path = slave.path();
  line.host = "127.0.0.1";
  line.port = slave.port();
  return line;
}

TEST_CASE("a program runs on the wall clock: it writes, loses its slave and finds it again") {
  for (const auto kind : {PlainSlave::Kind::tcp, PlainSlave::Kind::pty}) {
    CAPTURE(static_cast<int>(kind));
    PlainSlave slave(kind);
    rehearsal::MasterSpec plc;
    plc.name = "plc";
    plc.lines = {"line"};
    plc.timeout = 200ms;
    plc.lost_after = 1;
    plc.program = {polls(holding(3, "line"))};
    plc.when_back_writes = {{holding(2, "line"), 0.321}};
    Notes notes;
    WallMasters masters({plc}, {line_to(slave)}, clock_from_now(),
                        [&](const std::string& who, const std::string& what) { notes.add(who, what); });
    slave.silent = true;
    masters.start();
    CHECK(notes.wait_for("plc: no answer from heater, 1 request given up: counts as lost, writes nothing"));
    slave.silent = false;
    CHECK(notes.wait_for("plc: heater answers again: no longer lost"));
    // The write goes out right after that note; the end of the run lets a request that is under way finish.
    masters.finish();
    const auto sent = masters.transactions();
    CHECK(sent >= 2);
    if (kind == PlainSlave::Kind::tcp) CHECK(slave.connections() >= 2);
    masters.finish();
    CHECK(masters.transactions() == sent);
  }
}

TEST_CASE("what a stand-in writes on the wall clock is what the slave gets") {
  PlainSlave slave(PlainSlave::Kind::tcp);
  rehearsal::MasterSpec plc;
  plc.name = "plc";
  plc.lines = {"line"};
  plc.timeout = 20s;
  rehearsal::ProgramStep write;
  write.kind = rehearsal::ProgramStep::Kind::write;
  write.at = SimTime{1ms};
  write.writes = {{holding(2, "line"), 0.321}};
  rehearsal::ProgramStep refused = write;
  refused.at = SimTime{2ms};
  refused.writes = {{holding(77, "line"), 0.5}};
  plc.program = {write, refused};
  Notes notes;
  WallMasters masters({plc}, {line_to(slave)}, clock_from_now(),
                      [&](const std::string& who, const std::string& what) { notes.add(who, what); });
  masters.start();
  CHECK(notes.wait_for(
      "plc: heater refused heater.setpoint = 50 % at 0x004D (40078): illegal data address (02)"));
  CHECK(slave.holding(2) == 321);
  masters.finish();
}

TEST_CASE("the end of the run does not wait for a sleeping program") {
  PlainSlave slave(PlainSlave::Kind::tcp);
  rehearsal::MasterSpec plc;
  plc.name = "plc";
  plc.lines = {"line"};
  rehearsal::ProgramStep late;
  late.at = SimTime{std::chrono::hours{1}};
  late.reads = {holding(0, "line")};
  plc.program = {late};
  WallMasters masters({plc}, {line_to(slave)}, clock_from_now(),
                      [](const std::string&, const std::string&) {});
  masters.start();
  masters.finish();
  CHECK(masters.transactions() == 0);
}

}  // namespace
}  // namespace emberline::io
