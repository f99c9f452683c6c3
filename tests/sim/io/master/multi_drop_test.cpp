// Thirty-two units on one two-wire line, polled by one master without a pause.
#include <cstdint>
#include <string>

#include <doctest/doctest.h>

#include "plant-models/materials/material.hpp"
#include "sim/io/master/stepped_masters.hpp"
#include "sim/rehearsal/target.hpp"
#include "tests/sim/io/master/stepped_rig.hpp"
#include "tests/support/this_build.hpp"

namespace emberline::io {
namespace {

constexpr int kUnits = 32;

bench::BenchSpec one_long_line() {
  bench::BenchSpec spec;
  spec.title = "A long line";
  spec.lines.resize(1);
  spec.lines[0].name = "field";
  spec.lines[0].serial = parse_serial_format("19200 8E1").value();
  for (int id = 1; id <= kUnits; ++id) {
    spec.units.push_back(heater("unit-" + std::to_string(id), id));
    spec.units.back().unit.lines = {"field"};
  }
  return spec;
}

/// Holds every answer against the request before it.
class Listener final : public bench::LineObserver {
 public:
  void request(const bench::RequestSeen& request) override { asked_ = request.unit_id; }
  void answer(const bench::AnswerSeen& answer) override {
    ++answers;
    if (answer.late || answer.bytes[0] != asked_) ++from_others;
    // 03, two bytes, a setpoint of as many tenths of a percent as the unit's id.
    if (answer.bytes[1] == 3 && (answer.bytes[3] != 0 || answer.bytes[4] != asked_)) ++wrong_values;
  }
  std::uint64_t answers = 0;
  std::uint64_t from_others = 0;
  std::uint64_t wrong_values = 0;

 private:
  std::uint8_t asked_ = 0;
};

}  // namespace

TEST_CASE(
    "on a line with 32 units an answer is another unit's, or the line's time is not what its speed says") {
  const auto spec = one_long_line();
  rehearsal::ProgramStep tells_apart;
  tells_apart.kind = rehearsal::ProgramStep::Kind::write;
  tells_apart.at = at(0s);
  rehearsal::ProgramStep polls;
  polls.every = 10ms;  // never done in time: what is missed falls due at once
  for (int id = 1; id <= kUnits; ++id) {
    const std::string name = "unit-" + std::to_string(id) + ".setpoint";
    tells_apart.writes.push_back({rehearsal::resolve_target(spec, name, true).value(), id / 1000.0});
    polls.reads.push_back(rehearsal::resolve_target(spec, name, false).value());
  }
  bench::Bench bench(spec);
  Listener listener;
  bench.lines().add_observer(listener);
  SteppedMasters masters(bench, {master("plc", {"field"}, {tells_apart, polls})});
  bench::EventLoop loop;
  loop.add(bench::Rank::frames, masters.wire());
  loop.add(bench::Rank::timers, bench.timers());
  loop.add(bench::Rank::stand_ins, masters.stand_ins());
  loop.add(bench::Rank::grid, bench.grid());

  // An hour; a twentieth of it where a sanitizer makes everything slow.
  const Duration length = testing::sanitized() ? Duration{3min} : Duration{1h};
  loop.run_through(at(length));
  masters.finish();
  bench.lines().remove_observer(listener);

  CHECK(listener.from_others == 0);
  CHECK(listener.wrong_values == 0);
  CHECK(masters.mistaken_answers() == 0);
  // MODBUS over Serial Line V1.02, 2.5.1: 11 bits a character, 3.5 characters between frames. A read of one
  // register has 8 characters, its answer 7.
  const double transaction_s = (8 + 3.5 + 7 + 3.5) * 11.0 / 19200.0;
  const double used_s = static_cast<double>(masters.transactions()) * transaction_s;
  CHECK(used_s == doctest::Approx(to_seconds(length)).epsilon(0.01));
  CHECK(masters.transactions() - listener.answers <= 1);  // the one under way at the end
  const auto review = bench.traffic();
  REQUIRE(review.lines.size() == 1);
  CHECK(to_seconds(review.lines[0].time_used) == doctest::Approx(used_s).epsilon(0.01));
  CHECK(review.lines[0].broken == 0);
  CHECK(review.pairs.size() == kUnits);
  MESSAGE(masters.transactions() << " transactions in " << to_seconds(length) << " s of simulated time");
}

}  // namespace emberline::io
