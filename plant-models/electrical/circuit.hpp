#pragma once

#include <cstdint>
#include <deque>
#include <vector>

#include "plant-models/electrical/circuit_crowd.hpp"
#include "plant-models/electrical/circuit_resistive.hpp"
#include "plant-models/electrical/circuit_stepped.hpp"
#include "plant-models/electrical/circuit_unit.hpp"

namespace emberline::plant {

/// Units that have to be solved together, because they see each other through the source, or one alone on a
/// supply without impedance: in closed form from one switching instant to the next while all is resistive
/// (ResistiveCircuit), in steps of time otherwise (SteppedCircuit). Cycles that repeat, as in bursts, are
/// remembered.
class Circuit {
 public:
  /// `loads` stay where they are. `with_lines`: the answer tells the currents in the lines, too.
  Circuit(const SupplyParameters& supply, const std::vector<const LoadParameters*>& loads,
          bool with_lines = false);

  struct Answer {
    std::vector<LoadResult> loads;
    SupplySums supply;
    std::vector<LineStretch> lines;
    std::uint64_t version = 0;  ///< another one for every cycle that was worked out anew
  };

  /// Where the next cycle begins. Resistive units: only what their thyristors do.
  void set_begin(const std::vector<UnitState>& states);
  /// It begins where the last one ended.
  void next_cycle();
  [[nodiscard]] const std::vector<UnitState>& begin() const { return begin_; }
  [[nodiscard]] std::size_t size() const { return units_.size(); }
  /// One cycle, commands in the order of the loads. The answer stays valid until the next call.
  const Answer& solve(const SupplyState& supply, const std::vector<const Conduction*>& commands);
  /// The cycle just solved ended as it began.
  [[nodiscard]] bool settled() const { return settled_; }
  /// How often a bound on turns was reached, in all cycles so far.
  [[nodiscard]] std::uint64_t gave_up() const {
    return resistive_.gave_up() + steps_.gave_up() + crowd_.gave_up();
  }
  /// Of one unit, in the present cycle.
  [[nodiscard]] Waves waves(std::size_t index, const SupplyState& supply,
                            const std::vector<const Conduction*>& commands);

 private:
  struct Memory {
    std::vector<Conduction> commands;
    std::vector<std::array<double, 3>> resistances_ohm;
    std::vector<UnitState> begin, end;
    Answer answer;
    bool settled = false;
  };

  [[nodiscard]] bool same_commands(const Memory& memory,
                                   const std::vector<const Conduction*>& commands) const;
  [[nodiscard]] bool same_begin(const Memory& memory) const;
  const Memory* remembered(const std::vector<const Conduction*>& commands);
  void run(const SupplyState& supply, const std::vector<const Conduction*>& commands, Memory& memory,
           Waves* waves, std::size_t written);
  [[nodiscard]] bool ended_as_begun(const Memory& memory, const SourceState& source_end) const;

  SupplyParameters supply_;
  std::vector<const LoadParameters*> loads_;
  std::vector<UnitCircuit> units_;
  std::vector<UnitCircuit*> pointers_;
  bool with_lines_;
  enum class Solver { resistive, stepped, crowd };
  Solver solver_ = Solver::resistive;
  bool stepped_ = false;  ///< something is carried from cycle to cycle beside the switching
  ResistiveCircuit resistive_;
  SteppedCircuit steps_;
  CrowdCircuit crowd_;

  std::vector<UnitState> begin_, end_;
  SourceState source_begin_, source_end_;
  bool settled_ = true;
  std::uint64_t versions_ = 0;
  SupplyState memories_of_;
  std::deque<Memory> memories_;  ///< the last one first
};

}  // namespace emberline::plant
