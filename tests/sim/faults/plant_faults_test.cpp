// What each fault of supply, load, power stage and sensors does to the bench, and that it can be taken back.
#include <algorithm>
#include <array>
#include <functional>
#include <string>
#include <vector>

#include <doctest/doctest.h>

#include "sim/faults/action.hpp"
#include "tests/support/heated_bench.hpp"

using namespace emberline;
using namespace std::chrono_literals;

namespace {

/// Everything that faults of the plant can alter, in one piece.
struct PlantState {
  plant::SupplyState supply;
  std::array<plant::LegState, 3> legs;
  std::array<std::array<double, 2>, 3> misfiring{};  ///< by leg: forward, backward
  bench::Bench::SensorFault sensor;
  bool fan = true;
  bool operator==(const PlantState&) const = default;
};

PlantState state_of(const bench::Bench& bench) {
  PlantState state;
  state.supply = bench.supply_state();
  for (std::size_t leg = 0; leg < state.legs.size(); ++leg) {
    state.legs[leg] = bench.leg_state(0, leg);
    state.misfiring[leg] = {bench.misfiring(0, leg, true), bench.misfiring(0, leg, false)};
  }
  state.sensor = bench.sensor_fault(0);
  state.fan = bench.fan_running(0);
  return state;
}

/// The heater with a heat sink, a fuse and a cut-out in its zone.
bench::BenchSpec breakable_bench() {
  auto spec = testing::heated_bench();
  spec.units[0].heat_sink.emplace();
  spec.units[0].fuse.emplace();
  spec.zones[0].cut_out = bench::CutOutSpec{300.0, "main"};
  return spec;
}

void perform(bench::Bench& bench, const std::string& text, SimTime at = SimTime{1s}) {
  const auto action = faults::parse_action(bench.spec(), text);
  REQUIRE_MESSAGE(action, text << ": " << (action ? "" : action.error()));
  faults::carry_out(bench, *action, at);
}

std::vector<std::string> journal_since(bench::Bench& bench, std::size_t from) {
  std::vector<std::string> lines;
  const auto& entries = bench.journal().entries();
  for (std::size_t i = from; i < entries.size(); ++i)
    lines.push_back(entries[i].subject + ": " + entries[i].sentence);
  return lines;
}

struct Row {
  std::string text;
  std::function<void(PlantState&)> change;
  const char* mend;
  const char* said;  ///< a part of the journal's first line about it
};

const std::vector<Row>& rows() {
  static const std::vector<Row> kRows = {
      {"phase_lost supply.l2", [](PlantState& s) { s.supply.open[1] = true; }, "mend supply.l2",
       "supply.l2: phase l2 lost: stars with neutral lose one leg"},
      {"phase_lost supply",
       [](PlantState& s) {
         s.supply.open = {true, true, true};
       },
       "phase_back supply", "supply: all three phases lost: no load has any power"},
      {"dip supply to 50 %",
       [](PlantState& s) {
         s.supply.share = {0.5, 0.5, 0.5};
       },
       "mend supply", "supply: voltage of all three phases dips to 50 %"},
      {"dip supply.l3 to 120 %", [](PlantState& s) { s.supply.share[2] = 1.2; }, "mend supply.l3 only dip",
       "supply.l3: voltage of phase l3 swells to 120 %"},
      {"frequency supply to 48.5 Hz", [](PlantState& s) { s.supply.frequency_Hz = 48.5; }, "mend supply",
       "supply: frequency goes to 48.5 Hz"},
      {"element_open heater.l1", [](PlantState& s) { s.legs[0].elements_open = 1; }, "mend heater.l1",
       "heater.l1: 1 of 4 elements in parallel open"},
      {"element_open heater.l3 count 4", [](PlantState& s) { s.legs[2].elements_open = 4; }, "mend heater.l3",
       "heater.l3: all 4 elements open: nothing flows in this leg"},
      {"leg_open heater.l2", [](PlantState& s) { s.legs[1].elements_open = 4; }, "mend heater",
       "heater.l2: the leg is open"},
      {"ageing heater to 130 %",
       [](PlantState& s) {
         for (auto& leg : s.legs) leg.ageing = 1.3;
       },
       "mend heater", "heater.l1: elements have 130 % of the resistance of new ones"},
      {"thyristor_open heater.l1",
       [](PlantState& s) { s.legs[0].forward_open = s.legs[0].backward_open = true; }, "mend heater.l1",
       "heater.l1: thyristors open, both directions: nothing flows here whatever the command"},
      {"thyristor-open heater.l1.backward", [](PlantState& s) { s.legs[0].backward_open = true; },
       "mend heater.l1.backward", "heater.l1: backward thyristor open: half of the half-waves are missing"},
      {"thyristor_shorted heater.l2",
       [](PlantState& s) { s.legs[1].forward_shorted = s.legs[1].backward_shorted = true; }, "mend heater.l2",
       "heater.l2: thyristor shorted, both directions: it conducts whatever the command; only the contactor "
       "stops "
       "it"},
      {"thyristor_shorted heater.l2.forward", [](PlantState& s) { s.legs[1].forward_shorted = true; },
       "mend heater.l2",
       "heater.l2: forward thyristor shorted: every second half-wave flows whatever the command, a direct "
       "current"},
      {"misfiring heater.l3 share 25 %",
       [](PlantState& s) {
         s.misfiring[2] = {0.25, 0.25};
       },
       "mend heater", "heater.l3: forward thyristor misses its pulse in 25 % of the half-waves"},
      {"misfiring heater.l3.backward", [](PlantState& s) { s.misfiring[2][1] = 1.0; },
       "mend heater.l3 only misfiring", "heater.l3: backward thyristor misses its pulse in all half-waves"},
      {"fuse_open heater.l1", [](PlantState& s) { s.legs[0].fuse_open = true; }, "mend heater.l1",
       "heater.l1: fuse open: nothing flows in this line until it is replaced"},
      {"fan_failed heater", [](PlantState& s) { s.fan = false; }, "mend heater", "heater: "},
      {"sensor_broken oven", [](PlantState& s) { s.sensor.broken = true; }, "mend oven",
       "oven: sensor broken: it has no value"},
      {"sensor_offset oven by -12 K", [](PlantState& s) { s.sensor.offset_K = -12.0; }, "mend oven",
       "oven: sensor shows 12 K too little: whoever controls by it heats too far"},
  };
  return kRows;
}

}  // namespace

TEST_CASE("each fault of the plant changes what it says and nothing else, says so once, and can be mended") {
  for (const auto& row : rows()) {
    CAPTURE(row.text);
    bench::Bench bench(breakable_bench());
    const auto whole = state_of(bench);
    auto expected = whole;
    row.change(expected);
    REQUIRE_FALSE(expected == whole);
    const auto before = bench.journal().entries().size();
    perform(bench, row.text);
    CHECK(state_of(bench) == expected);
    const auto said = journal_since(bench, before);
    REQUIRE_FALSE(said.empty());
    CHECK_MESSAGE(said.front().starts_with(row.said), said.front());
    perform(bench, row.text);  // what is broken already is not told again
    CHECK(state_of(bench) == expected);
    CHECK(journal_since(bench, before).size() == said.size());
    perform(bench, row.mend);
    CHECK(state_of(bench) == whole);
    CHECK(journal_since(bench, before).size() == 2 * said.size());
  }
}

TEST_CASE("each fault of the plant ends by itself when it was told for how long") {
  for (const auto& row : rows()) {
    CAPTURE(row.text);
    bench::Bench bench(breakable_bench());
    const auto whole = state_of(bench);
    perform(bench, row.text + " for 2 s");
    CHECK_FALSE(state_of(bench) == whole);
    bench.timers().run(SimTime{2999ms});
    CHECK_FALSE(state_of(bench) == whole);
    bench.timers().run(SimTime{3s});
    CHECK(state_of(bench) == whole);
  }
}

TEST_CASE("mending one fault leaves the others, and mending a leg leaves its neighbours") {
  bench::Bench bench(breakable_bench());
  perform(bench, "dip supply to 80 %");
  perform(bench, "phase_lost supply.l1");
  perform(bench, "mend supply only dip");
  CHECK(bench.supply_state().share == std::array{1.0, 1.0, 1.0});
  CHECK(bench.supply_state().open[0]);
  perform(bench, "phase_lost supply");
  perform(bench, "phase_back supply.l3");
  CHECK(bench.supply_state().open == std::array{true, true, false});

  perform(bench, "leg_open heater");
  perform(bench, "fuse_open heater.l2");
  perform(bench, "fan_failed heater");
  perform(bench, "mend heater.l2");
  CHECK(bench.leg_state(0, 1) == plant::LegState{});
  CHECK(bench.leg_state(0, 0).elements_open == 4);
  CHECK_FALSE(bench.fan_running(0));  // of the unit, not of a leg
  perform(bench, "mend heater only fan_failed");
  CHECK(bench.fan_running(0));
  CHECK(bench.leg_state(0, 0).elements_open == 4);

  perform(bench, "sensor_broken oven");
  perform(bench, "sensor_offset oven by 5 K");
  perform(bench, "mend oven only sensor_broken");
  CHECK(bench.sensor_fault(0) == bench::Bench::SensorFault{false, 5.0});
}

TEST_CASE("what broke before stays broken when less is told") {
  bench::Bench bench(breakable_bench());
  perform(bench, "element_open heater.l1 count 3");
  perform(bench, "element_open heater.l1 count 2");
  CHECK(bench.leg_state(0, 0).elements_open == 3);
}

TEST_CASE("mending goes back to what the bench file says, not to what is new") {
  auto spec = breakable_bench();
  spec.supply.frequency_Hz = 60.0;
  spec.units[0].load.ageing = {1.1, 1.2, 1.3};
  bench::Bench bench(spec);
  perform(bench, "ageing heater to 150 %");
  perform(bench, "frequency supply to 58 Hz");
  perform(bench, "mend heater");
  perform(bench, "mend supply");
  CHECK(bench.leg_state(0, 0).ageing == 1.1);
  CHECK(bench.leg_state(0, 2).ageing == 1.3);
  CHECK(bench.supply_state().frequency_Hz == 60.0);
}

TEST_CASE("mending what is whole says so and changes nothing") {
  bench::Bench bench(breakable_bench());
  const auto whole = state_of(bench);
  for (const std::string target :
       {"supply", "supply.l1", "heater", "heater.l2", "heater.l2.forward", "oven"}) {
    const auto before = bench.journal().entries().size();
    perform(bench, "mend " + target);
    CHECK(journal_since(bench, before) == std::vector<std::string>{target + ": nothing to mend here"});
  }
  const auto before = bench.journal().entries().size();
  perform(bench, "phase_back supply");
  CHECK(journal_since(bench, before).size() == 1);
  CHECK(state_of(bench) == whole);
}

TEST_CASE("everything that lasts can be mended by its own word, and nothing else can") {
  const auto* mend = faults::find_action("mend");
  REQUIRE(mend != nullptr);
  const auto& words = mend->keys.front().words;
  std::vector<std::string_view> known(words.begin(), words.end());
  std::vector<std::string_view> mendable;
  for (const auto* kind : faults::all_actions())
    if (kind->mend != nullptr) mendable.push_back(kind->word);
  std::sort(known.begin(), known.end());
  std::sort(mendable.begin(), mendable.end());
  CHECK(known == mendable);
}

TEST_CASE("an expectation can wait for the mending that 'for' leads to") {
  const auto spec = breakable_bench();
  for (const auto& row : rows()) {
    CAPTURE(row.text);
    const auto action = faults::parse_action(spec, row.text + " for 1 s");
    REQUIRE(action);
    const auto undo = action->kind->undo(*action);
    CHECK(undo.text() == "mend " + action->target_name + " only " + std::string(action->kind->word));
    const auto named = faults::name_action(spec, "mend", action->target_name);
    REQUIRE(named);
    CHECK(named->target == undo.target);
    const auto told = faults::parse_action(spec, undo.text());
    REQUIRE(told);
    CHECK(told->values == undo.values);
  }
}

TEST_CASE("what a bench cannot have is refused with the reason") {
  auto spec = testing::heated_bench();  // without heat sink and cut-out
  auto second = spec.units[0];
  second.unit.name = "direct";
  second.unit.id = 2;
  second.load.connection = plant::Connection::delta;
  second.load.controlled_legs = 2;
  spec.units.push_back(second);
  auto third = spec.units[0];
  third.unit.name = "single";
  third.unit.id = 3;
  third.load.connection = plant::Connection::single_phase;
  spec.units.push_back(third);
  struct Case {
    std::string text;
    const char* part;
  };
  const Case cases[] = {
      {"phase_lost supply.l4", "needs the supply (all phases) or one phase of it, found 'supply.l4'"},
      {"phase_lost heater", "'phase_lost' needs the supply"},
      {"dip supply", "'dip' needs 'to': the share of its voltage that is left"},
      {"dip supply to 250 %", "'to': expected a percentage from 0 % to 200 %, found '250 %'"},
      {"frequency supply.l1 to 49 Hz", "'frequency': all phases have one frequency: expected 'supply'"},
      {"frequency supply to 5 Hz", "'to': expected a frequency from 10 Hz to 1000 Hz, found '5 Hz'"},
      {"element_open heater.l1 count 5", "'element_open': 'count': a leg of 'heater' has 4 elements"},
      {"element_open heater.l4", "found 'heater.l4'; did you mean 'heater.l1'?"},
      {"element_open single.l2", "found 'single.l2'"},
      {"ageing heater to 0 %", "'to': expected a percentage from 1 % to 10000 %, found '0 %'"},
      {"element_open heater.l1.forward", "needs a unit (all its legs) or one leg (UNIT.l1)"},
      {"thyristor_shorted heater.l1.sideways", "needs a unit, a pair of thyristors (UNIT.l1)"},
      {"thyristor_shorted direct.l3", "'direct.l3' is direct, as the unit has two controlled legs"},
      {"misfiring heater.l1 share 120 %", "'share': expected a share from 0 % to 100 %"},
      {"misfiring heater.l1.forward share 0 %",
       "'misfiring': with a share of 0 % no pulse is missed: to take it back use 'mend heater.l1.forward "
       "only "
       "misfiring'"},
      {"fan_failed heater",
       "'fan_failed': the bench file gives 'heater' no 'heat_sink' that a fan would cool"},
      {"reset_cut_out oven", "'reset_cut_out': the bench file gives 'oven' no 'cut_out'"},
      {"reset_cut_out heater", "'reset_cut_out' needs a zone of the bench, found 'heater'"},
      {"sensor_broken ovn", "did you mean 'oven'?"},
      {"sensor_offset oven", "'sensor_offset' needs 'by'"},
      {"sensor_offset oven by 5 degC", "'by': expected a temperature difference from -1000 K to 1000 K"},
      {"mend feild", "needs the supply, a phase, a unit, a leg, a thyristor or a zone, found 'feild'"},
      {"mend field", "'mend' is not for lines: use 'restore field'"},
      {"mend field only cut", "'mend' is not for lines: use 'restore field'"},
      {"mend heater only cut", "'only': 'cut' is a fault of a line: use 'restore LINE only cut'"},
      {"mend supply only late_answer", "'only': 'late_answer' is a fault of a line: use 'restore LINE"},
      {"mend oven only dip", "'mend': 'dip' is not a fault of 'oven'"},
      {"mend heater.l1 only fan_failed", "'mend': 'fan_failed' is not a fault of 'heater.l1'"},
      {"mend supply.l1 only frequency", "'mend': 'frequency' is not a fault of 'supply.l1'"},
      {"mend supply only rain", "'only': expected one of phase_lost"},
      {"mend supply for 1 s", "'mend' is over at once and takes no 'for'"},
      {"learn heater for 1 s", "'learn' is over at once and takes no 'for'"},
  };
  for (const auto& [text, part] : cases) {
    CAPTURE(text);
    const auto action = faults::parse_action(spec, text);
    REQUIRE_FALSE(action);
    CHECK_MESSAGE(action.error().find(part) != std::string::npos, action.error());
  }
  // Both legs with thyristors, and no third.
  bench::Bench bench(spec);
  perform(bench, "thyristor_open direct");
  CHECK(bench.leg_state(1, 0).forward_open);
  CHECK(bench.leg_state(1, 1).backward_open);
  CHECK(bench.leg_state(1, 2) == plant::LegState{});
  perform(bench, "leg_open single");
  CHECK(bench.leg_state(2, 0).elements_open == 4);
}
