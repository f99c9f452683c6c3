#pragma once

#include <cstddef>
#include <deque>
#include <map>
#include <optional>
#include <set>
#include <string>
#include <utility>
#include <vector>

#include "sim/modbus/pdu.hpp"
#include "sim/registers/codec.hpp"
#include "sim/rehearsal/master_spec.hpp"
#include "sim/rehearsal/stand_in.hpp"

namespace emberline::rehearsal {

/// A stand-in's requests from its beginning to its end: tries and pauses, who counts as lost, what goes out
/// when somebody is lost or back, and what the journal hears of all that.
class StandInRequests {
 public:
  /// The program ends at `ends`, or with the run.
  StandInRequests(const MasterSpec& master, MasterLink& link, std::optional<SimTime> ends)
      : master_(master), link_(link), ends_(ends), remembers_(writes_on_change(master)) {}

  /// True once no further request may go out.
  [[nodiscard]] bool halted() const { return link_.over() || (ends_ && link_.now() >= *ends_); }

  /// What a read brought: registers or bits, from the first of the range on.
  struct Answer {
    std::vector<std::uint16_t> words;
    std::vector<bool> bits;
  };
  /// Reads a range of the slave and table of `lead`. Null when it brought nothing, or when the slave counts
  /// as lost and is not to be asked yet. Good until the next read.
  const Answer* read(const Target& lead, modbus::AddressRange range);
  /// A write of the program: kept back while the slave counts as lost; `on_change`: left out if the slave
  /// took the same from this stand-in last.
  void write(const Target& target, double value, bool on_change);
  /// A write for a case: whether the slave counts as lost or not.
  void write_anyway(const Target& target, double value);
  /// Says once for each loss that a write is kept back; false if the slave is not lost.
  bool keeps_back(const Target& target, double value);

  /// Whether that holds now; returns and refusals count from `since` on.
  [[nodiscard]] bool holds(const SlaveCondition& condition, SimTime since) const;

  /// Where a loss or a return since the last call sends the program, and why; the latest of them.
  struct Wish {
    std::size_t to;
    std::string why;
  };
  [[nodiscard]] std::optional<Wish> take_wish() { return std::exchange(wish_, std::nullopt); }

 private:
  using Outcome = Result<Done, MasterLink::Failure>;
  /// What is known of a slave from its answers.
  struct Slave {
    bool io_block;
    std::size_t index;
    int failures = 0;  ///< requests given up since the last answer
    bool lost = false;
    SimTime asked_at{};                ///< when the latest request to it set out
    std::optional<SimTime> back_at{};  ///< when it was found again last
  };
  struct Refused {
    modbus::Refusal refusal;
    SimTime at;  ///< the last time
  };
  /// What a slave took last at an address.
  struct Taken {
    bool io_block;
    std::size_t slave;
    modbus::Table table;
    std::uint16_t address;
    registers::Words words;
  };
  struct Reaction {
    const Write* write;
    bool kept_back_by_loss;
  };

  static bool writes_on_change(const MasterSpec& master);
  void send(const Target& target, double value);
  [[nodiscard]] const std::string* line_to(const Target& target) const;
  template <class Try>
  Outcome persist(const Target& target, Try&& once);
  template <class Words>
  void conclude(const Target& target, const Outcome& outcome, Words&& what);
  void given_up(const Target& target);
  void answered(const Target& target);
  void react();
  template <class Words>
  void note_refusal(const Target& target, const Outcome& outcome, Words&& what);
  Slave& slave_of(const Target& target);
  [[nodiscard]] Taken* taken_from(const Target& target);
  void remember(const Target& target, const registers::Words& words);
  void forget(const Target& target);

  const MasterSpec& master_;
  MasterLink& link_;
  std::optional<SimTime> ends_;
  bool remembers_;
  Answer answer_;
  std::deque<Slave> slaves_;
  std::deque<Reaction> reactions_;
  bool reacting_ = false;
  std::optional<Wish> wish_;
  std::vector<Taken> taken_;
  std::map<const Target*, Refused> refused_;  ///< what was refused last time, and how
  std::set<std::pair<std::pair<bool, std::size_t>, std::string>> kept_back_;  ///< told once for each loss
};

/// "soak-heater"
[[nodiscard]] std::string slave_name(const Target& target);

}  // namespace emberline::rehearsal
