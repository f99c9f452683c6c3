#pragma once

#include <chrono>
#include <functional>
#include <map>
#include <memory>
#include <string>
#include <utility>
#include <vector>

#include "sim/base/quantity.hpp"
#include "sim/bench/bench.hpp"
#include "sim/bench/event_loop.hpp"
#include "sim/faults/action.hpp"
#include "sim/io/master/stepped_masters.hpp"
#include "sim/rehearsal/target.hpp"

namespace emberline::io {

using namespace std::chrono_literals;

constexpr SimTime at(Duration since_start) { return SimTime{since_start}; }

inline std::shared_ptr<const registers::RegisterTable> small_table() {
  using registers::Point;
  registers::TableParts parts;
  parts.title = "small";
  const auto add = [&](std::uint16_t address, Point point, double scale, registers::Access access) {
    registers::Row row;
    row.address = address;
    row.point = point;
    row.layout.scale = scale;
    row.access = access;
    parts.rows.push_back(row);
  };
  add(48, Point::setpoint, 0.001, registers::Access::read_write);
  parts.rows.back().range = {0.0, 1.0};
  add(64, Point::load_current_l1, 0.1, registers::Access::read_only);
  add(65, Point::state, 1.0, registers::Access::read_only);
  add(70, Point::comms_timeout, 0.1, registers::Access::read_write);
  parts.rows.back().layout.type = registers::Type::u32;
  return make_register_table(std::move(parts)).value();
}

inline bench::UnitEntry heater(const std::string& name, int id) {
  bench::UnitEntry entry;
  entry.unit.name = name;
  entry.unit.id = id;
  entry.unit.lines = {"field", "ethernet"};
  entry.unit.table = small_table();
  entry.unit.rated_voltage_V = 400.0;
  entry.unit.rated_current_A = 63.0;
  entry.unit.comms_loss.lines = {"field"};
  entry.load.connection = plant::Connection::star_4_wire;
  entry.load.material = plant::find_material("constant");
  entry.load.cold_resistance_ohm = {10.0, 10.0, 10.0};
  return entry;
}

/// Heaters north (id 1) and south (id 2) on an RTU line "field" (19200 8E1) and a TCP line "ethernet"; block
/// marshalling (id 20) on ethernet, whose coil 0 is north's enable terminal and input 0 north's setpoint.
inline bench::BenchSpec two_heaters() {
  bench::BenchSpec spec;
  spec.title = "Two heaters";
  spec.lines.resize(2);
  spec.lines[0].name = "field";
  spec.lines[1].name = "ethernet";
  spec.lines[1].kind = bench::LineKind::tcp;
  spec.units = {heater("north", 1), heater("south", 2)};
  bench::IoBlockSpec block;
  block.name = "marshalling";
  block.id = 20;
  block.lines = {"ethernet"};
  block.coils[0] = "north.terminal.enable";
  block.input[0] = {"north.setpoint", {registers::Type::u16, 0.001, {}, {}}};
  spec.io_blocks = {block};
  return spec;
}

/// What is done to the bench at set times, as a timeline would.
class Hands final : public bench::EventSource {
 public:
  void add(SimTime when, std::function<void()> what) { due_.emplace(when, std::move(what)); }
  [[nodiscard]] std::optional<SimTime> next() const override {
    return due_.empty() ? std::nullopt : std::optional{due_.begin()->first};
  }
  void run(SimTime now) override {
    while (!due_.empty() && due_.begin()->first <= now) due_.extract(due_.begin()).mapped()();
  }

 private:
  std::multimap<SimTime, std::function<void()>> due_;
};

/// A bench in stepped time with stand-ins. Programs are written with the names of the bench.
class SteppedRig {
 public:
  explicit SteppedRig(std::vector<rehearsal::MasterSpec> masters, bench::BenchSpec spec = two_heaters(),
                      std::uint64_t seed = 1)
      : bench_(std::move(spec), {.seed = seed}) {
    bench_.on_write([this](const unit::WriteSeen& write) {
      writes.push_back({write.at, std::string(write.unit) + " " + format_number(write.asked) + " by " +
                                      std::string(write.master)});
    });
    masters_ = std::make_unique<SteppedMasters>(bench_, masters);
    loop_.add(bench::Rank::frames, masters_->wire());
    loop_.add(bench::Rank::timers, bench_.timers());
    loop_.add(bench::Rank::timeline, hands);
    loop_.add(bench::Rank::stand_ins, masters_->stand_ins());
    loop_.add(bench::Rank::grid, bench_.grid());
  }

  void cut(std::size_t line, SimTime from, SimTime to) {
    hands.add(from, [this, line, from] { bench_.set_line_cut(line, true, from); });
    hands.add(to, [this, line, to] { bench_.set_line_cut(line, false, to); });
  }
  /// Has an action done, "delay field by 20 ms for 3 s", as `tell` would.
  void perform(SimTime when, const std::string& text) {
    hands.add(when, [this, when, text] {
      faults::carry_out(bench_, faults::parse_action(bench_.spec(), text).value(), when);
    });
  }
  void run(Duration length) { loop_.run_through(at(length)); }
  /// Ends stand-ins and their threads as a run that is broken off does.
  void break_off() {
    loop_ = {};
    masters_.reset();
  }
  [[nodiscard]] SteppedMasters& masters() { return *masters_; }
  [[nodiscard]] bench::Bench& bench() { return bench_; }

  struct Seen {
    SimTime at;
    std::string what;
  };
  /// What stand-ins noted: "plc: ...".
  [[nodiscard]] std::vector<Seen> notes(const std::string& of) {
    std::vector<Seen> found;
    for (const auto& entry : bench_.journal().entries()) {
      if (entry.subject == of) found.push_back({entry.at, entry.sentence});
    }
    return found;
  }
  /// The whole journal as text, with nanoseconds.
  [[nodiscard]] std::string journal() {
    std::string text;
    for (const auto& entry : bench_.journal().entries()) {
      text += std::to_string(entry.at.time_since_epoch().count()) + " " + entry.subject + ": " +
              entry.sentence + "\n";
    }
    return text;
  }

  std::vector<Seen> writes;  ///< as the units saw them: "north 0.5 by plc"
  Hands hands;

 private:
  bench::Bench bench_;
  bench::EventLoop loop_;
  std::unique_ptr<SteppedMasters> masters_;
};

inline rehearsal::Target target(const std::string& name, bool for_writing = false) {
  static const bench::BenchSpec spec = two_heaters();
  return rehearsal::resolve_target(spec, name, for_writing).value();
}

inline rehearsal::ProgramStep reads(Duration period, const std::vector<std::string>& names) {
  rehearsal::ProgramStep step;
  step.every = period;
  for (const auto& name : names) step.reads.push_back(target(name));
  return step;
}

inline rehearsal::ProgramStep writes(Duration when, const std::string& name, double value) {
  rehearsal::ProgramStep step;
  step.kind = rehearsal::ProgramStep::Kind::write;
  step.at = at(when);
  step.writes = {{target(name, true), value}};
  return step;
}

inline rehearsal::MasterSpec master(const std::string& name, std::vector<std::string> lines,
                                    std::vector<rehearsal::ProgramStep> program) {
  rehearsal::MasterSpec spec;
  spec.name = name;
  spec.lines = std::move(lines);
  spec.program = std::move(program);
  return spec;
}

}  // namespace emberline::io
