// What the journal says of a lost phase: what becomes of the loads hangs on how they are connected.
#include <string>
#include <vector>

#include <doctest/doctest.h>

#include "sim/faults/action.hpp"
#include "tests/support/heated_bench.hpp"

using namespace emberline;
using namespace std::chrono_literals;

namespace {

/// Lets it happen; the first line the journal has about it.
std::string said(bench::Bench& bench, const std::string& text) {
  const auto action = faults::parse_action(bench.spec(), text);
  REQUIRE_MESSAGE(action, text << ": " << (action ? "" : action.error()));
  const auto before = bench.journal().entries().size();
  faults::carry_out(bench, *action, SimTime{1s});
  const auto& entry = bench.journal().entries().at(before);
  return entry.subject + ": " + entry.sentence;
}

}  // namespace

TEST_CASE("a lost phase is told by what hangs on it") {
  using plant::Across;
  using plant::Connection;
  struct Load {
    Connection connection;
    Across across = Across::l1_n;
  };
  struct Case {
    std::vector<Load> loads;
    const char* before;  ///< what is lost already
    const char* target;
    const char* said;
  };
  const char* const left = "phase l2 lost: loads without neutral run on what is left between the others";
  const Case cases[] = {
      {{{Connection::star_3_wire}}, "", "supply.l2", left},
      {{{Connection::delta}}, "", "supply.l2", left},
      {{{Connection::open_delta}}, "", "supply.l2", left},
      {{{Connection::star_4_wire}}, "", "supply.l3", "phase l3 lost: stars with neutral lose one leg"},
      {{{Connection::single_phase, Across::l2_n}},
       "",
       "supply.l2",
       "phase l2 lost: single-phase loads on it have no power"},
      {{{Connection::single_phase, Across::l3_l1}},
       "",
       "supply.l1",
       "phase l1 lost: single-phase loads on it have no power"},
      {{{Connection::single_phase, Across::l3_l1}}, "", "supply.l2", "phase l2 lost: no load hangs on it"},
      {{{Connection::star_4_wire}, {Connection::delta}, {Connection::single_phase, Across::l2_l3}},
       "",
       "supply.l2",
       "phase l2 lost: loads without neutral run on what is left between the others, stars with neutral lose "
       "one leg, single-phase loads on it have no power"},
      {{{Connection::delta}},
       "phase_lost supply.l1",
       "supply.l2",
       "phase l2 lost: loads without neutral have no power"},
      {{{Connection::star_4_wire}}, "", "supply", "all three phases lost: no load has any power"},
  };
  for (const auto& row : cases) {
    CAPTURE(std::string(row.said));
    auto spec = testing::heated_bench();
    const auto heater = spec.units[0];
    for (std::size_t u = 0; u < row.loads.size(); ++u) {
      if (u > 0) spec.units.push_back(heater);
      spec.units[u].unit.name = "heater-" + std::to_string(u);
      spec.units[u].unit.id = static_cast<int>(u) + 1;
      spec.units[u].load.connection = row.loads[u].connection;
      spec.units[u].load.across = row.loads[u].across;
    }
    spec.contactors[0].feeds = {"heater-0"};
    bench::Bench bench(spec);
    if (*row.before != '\0') said(bench, row.before);
    CHECK(said(bench, std::string("phase_lost ") + row.target) == std::string(row.target) + ": " + row.said);
  }
}

TEST_CASE("a single-phase supply that is lost is away as a whole") {
  auto spec = testing::heated_bench();
  spec.supply.system = plant::System::single_phase;
  spec.units[0].load.connection = plant::Connection::single_phase;
  bench::Bench bench(spec);
  for (const std::string target : {"supply", "supply.l1"}) {
    CHECK(said(bench, "phase_lost " + target) == target + ": the supply is away: no load has any power");
    CHECK(said(bench, "phase_back " + target) == target + ": the supply is back");
  }
}
