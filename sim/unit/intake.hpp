#pragma once

#include <cstdint>
#include <deque>
#include <optional>
#include <string>
#include <string_view>

#include "sim/base/sim_time.hpp"
#include "sim/modbus/pdu.hpp"
#include "sim/unit/unit_spec.hpp"

namespace emberline::unit {

/// Size of a read as intake limits count it: registers; bits in units of 16, begun units counting whole; of
/// 17 (hex) the registers that it reads. Nothing for requests that read nothing.
[[nodiscard]] std::optional<int> read_size(const modbus::Request& request);

/// What a small device can digest: registers in one read, and reads (01 to 04 and 17) in a sliding second, of
/// all masters together. A read exactly one second after another does not share a second with it. Reads that
/// the limits refuse do not use up the second, so that a master that asks twice too often gets half its
/// answers. What happens beyond them:
/// - Beyond::accept answers all the same.
/// - Beyond::exception answers 03 to a block too long (looked at first) and 06 to a read too often.
/// - Beyond::delay puts a read too often off until the second has room for it again, so that answers come
///   later each time; a block too long is worked off in portions of the largest block, each a read's share of
///   the second (kPortion where no reads a second are given). What would have to wait longer than
///   kLongestWait is dropped. The rule and its figures are ours: small devices do this in many ways.
/// Either way an excess raises the warning request-overload until kWarningStands after the last one.
class Intake {
 public:
  static constexpr Duration kWarningStands = std::chrono::seconds{2};
  /// The journal hears of excesses at most this often.
  static constexpr Duration kJournalPause = std::chrono::seconds{1};
  /// Beyond::delay: a read that would have to wait longer is dropped.
  static constexpr Duration kLongestWait = std::chrono::seconds{1};
  /// Beyond::delay without reads a second: what each further portion of a long block takes.
  static constexpr Duration kPortion = std::chrono::milliseconds{100};

  /// `spec` must outlive the intake.
  explicit Intake(const IntakeSpec& spec);

  struct Verdict {
    std::optional<modbus::Refusal> refused;
    bool dropped = false;  ///< no answer at all
    Duration held_back{};  ///< how much later than usual the answer comes
    std::string sentence;  ///< for the journal; empty when there is nothing to say
  };
  /// A read of this size came in.
  Verdict read(int size, SimTime at, std::string_view master);

  [[nodiscard]] bool overloaded() const { return overloaded_until_.has_value(); }
  /// When the warning falls; nothing while it does not stand.
  [[nodiscard]] std::optional<SimTime> due() const { return overloaded_until_; }
  void expire() { overloaded_until_.reset(); }
  /// Power gone: nothing counted, no warning.
  void reset();

 private:
  /// What is too much about a read.
  struct Excess {
    bool too_long = false;
    bool too_often = false;
    int size = 0;
  };
  void put_off(const Excess& excess, SimTime at, Verdict& verdict);
  [[nodiscard]] std::string sentence(const Excess& excess, const Verdict& verdict, std::string_view master);

  const IntakeSpec& spec_;
  std::deque<SimTime> taken_;  ///< reads taken up in the last second; delay: when they are
  std::deque<SimTime> asked_;  ///< reads that came in the last second
  std::optional<SimTime> overloaded_until_;
  std::optional<SimTime> journaled_;
  int since_journaled_ = 0;  ///< excesses the journal has not heard of
};

}  // namespace emberline::unit
