#pragma once

#include <chrono>
#include <filesystem>
#include <future>
#include <memory>
#include <optional>
#include <string>
#include <string_view>
#include <thread>
#include <utility>
#include <vector>

#include <doctest/doctest.h>
#include <stdlib.h>

#include "plant-models/materials/material.hpp"
#include "sim/bench/bench.hpp"
#include "sim/bench/event_loop.hpp"
#include "sim/io/line/wall_bench.hpp"
#include "sim/registers/register_table.hpp"

namespace emberline::test {

/// Nothing here takes long; this is only so that a broken program fails instead of hanging.
inline constexpr auto kPatience = std::chrono::seconds{60};

class Deadline {
 public:
  void check() const {
    if (std::chrono::steady_clock::now() > end_) {
      FAIL("waited in vain");
    }
  }

 private:
  std::chrono::steady_clock::time_point end_ = std::chrono::steady_clock::now() + kPatience;
};

/// A folder of the test's own, removed at the end.
class Folder {
 public:
  Folder() : path_("/tmp/emberline-test-XXXXXX") { REQUIRE(::mkdtemp(path_.data()) != nullptr); }
  ~Folder() {
    std::error_code ignored;
    std::filesystem::remove_all(path_, ignored);
  }
  Folder(const Folder&) = delete;
  Folder& operator=(const Folder&) = delete;
  [[nodiscard]] std::string operator/(const std::string& name) const { return path_ + "/" + name; }

 private:
  std::string path_;
};

/// Setpoint at 0x0030 (0.1 %), load current of L1 at 0x0040 (0.1 A), state at 0x0041.
inline std::shared_ptr<const registers::RegisterTable> small_table() {
  using registers::Point;
  registers::TableParts parts;
  parts.title = "Small";
  registers::Row setpoint;
  setpoint.address = 0x0030;
  setpoint.point = Point::setpoint;
  setpoint.layout.scale = 0.001;
  setpoint.access = registers::Access::read_write;
  setpoint.range = std::pair{0.0, 1.0};
  registers::Row current;
  current.address = 0x0040;
  current.point = Point::load_current_l1;
  current.layout.scale = 0.1;
  registers::Row state;
  state.address = 0x0041;
  state.point = Point::state;
  parts.rows = {setpoint, current, state};
  auto table = registers::make_register_table(std::move(parts));
  REQUIRE(table);
  return *table;
}

inline bench::UnitEntry heater(const std::string& name, int id, std::vector<std::string> lines) {
  bench::UnitEntry entry;
  entry.unit.name = name;
  entry.unit.id = id;
  entry.unit.comms_loss.lines = lines;  // timeout 0: no supervision
  entry.unit.lines = std::move(lines);
  entry.unit.table = small_table();
  entry.unit.rated_voltage_V = 400.0;
  entry.unit.rated_current_A = 63.0;
  entry.load.connection = plant::Connection::star_4_wire;
  entry.load.material = plant::find_material("constant");
  entry.load.cold_resistance_ohm = {10.0, 10.0, 10.0};
  return entry;
}

inline bench::LineSpec pty_spec(const std::string& name, const std::string& link = "") {
  bench::LineSpec line;
  line.name = name;
  line.kind = bench::LineKind::pty;
  line.path = link;
  return line;
}

inline bench::LineSpec tcp_spec(const std::string& name) {
  bench::LineSpec line;
  line.name = name;
  line.kind = bench::LineKind::tcp;
  line.host = "127.0.0.1";
  return line;
}

/// Units north (id 1, on both lines) and south (id 2, on field only); block marshalling (id 20, on ethernet),
/// whose coil 0 is north's enable terminal, discrete input 0 the same, and input register 0 north's state.
inline bench::BenchSpec small_bench() {
  bench::BenchSpec spec;
  spec.title = "Two heaters";
  spec.lines = {pty_spec("field"), tcp_spec("ethernet")};
  spec.units = {heater("north", 1, {"field", "ethernet"}), heater("south", 2, {"field"})};
  bench::IoBlockSpec block;
  block.name = "marshalling";
  block.id = 20;
  block.lines = {"ethernet"};
  block.coils[0] = "north.terminal.enable";
  block.discrete[0] = "north.terminal.enable";
  block.input[0] = bench::IoInput{"north.setpoint", {registers::Type::u16, 0.001, {}, {}}};
  spec.io_blocks = {block};
  return spec;
}

/// A bench being served by a thread of its own until the end of the test.
class Running {
 public:
  explicit Running(bench::BenchSpec spec, io::WallBench::Options options = {})
      : bench_(std::move(spec)), wall_(bench_, loop_, options) {
    loop_.add(bench::Rank::timers, bench_.timers());
    loop_.add(bench::Rank::grid, bench_.grid());
    auto opened = wall_.open();
    if (!opened) {
      FAIL(opened.error());
    }
    lines_ = std::move(opened).value();
  }
  ~Running() { stop(); }
  Running(const Running&) = delete;
  Running& operator=(const Running&) = delete;

  /// Begins to serve; what else shares the bench's thread is set up before.
  Running& go() {
    thread_ = std::thread([this] { wall_.run(); });
    return *this;
  }
  void stop() {
    if (thread_.joinable()) {
      wall_.stop();
      thread_.join();
    }
  }

  [[nodiscard]] const io::OpenLine& line(std::string_view name) const {
    for (const auto& line : lines_) {
      if (line.name == name) {
        return line;
      }
    }
    FAIL("no such line");
    return lines_.front();
  }
  /// Does something on the bench's thread and waits for it.
  template <class Task>
  auto ask(Task task) {
    using Answer = decltype(task(bench_, SimTime{}));
    auto done = std::make_shared<std::promise<Answer>>();
    auto answer = done->get_future();
    wall_.post([this, done, task](SimTime at) { done->set_value(task(bench_, at)); });
    if (answer.wait_for(kPatience) != std::future_status::ready) {
      FAIL("the bench's thread does not answer");
    }
    return answer.get();
  }
  io::WallBench::Statistics statistics() {
    return ask([this](bench::Bench&, SimTime) { return wall_.statistics(); });
  }
  /// Waits until `holds` of the statistics is true.
  template <class Condition>
  void until(Condition holds) {
    const Deadline deadline;
    while (!holds(statistics())) {
      deadline.check();
      std::this_thread::yield();
    }
  }
  void set_cut(std::size_t line, bool cut) {
    ask([=](bench::Bench& bench, SimTime at) {
      bench.set_line_cut(line, cut, at);
      return true;
    });
  }
  double setpoint(std::size_t unit) {
    return ask([=](bench::Bench& bench, SimTime at) {
      return bench.unit(unit).value(registers::Point::setpoint, at);
    });
  }
  /// Sentences of the journal that hold `words`.
  std::vector<std::string> journal(const std::string& words) {
    return ask([=](bench::Bench& bench, SimTime) {
      std::vector<std::string> found;
      for (const auto& entry : bench.journal().entries()) {
        if (entry.sentence.find(words) != std::string::npos) {
          found.push_back(entry.subject + ": " + entry.sentence);
        }
      }
      return found;
    });
  }
  [[nodiscard]] bench::Bench& bench() { return bench_; }
  [[nodiscard]] io::WallBench& wall() { return wall_; }

 private:
  bench::Bench bench_;
  bench::EventLoop loop_;
  io::WallBench wall_;
  std::vector<io::OpenLine> lines_;
  std::thread thread_;
};

}  // namespace emberline::test
