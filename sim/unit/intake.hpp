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

/// What a small device can digest: registers in one read, and reads (01 to 04, 17) in a sliding second, of
/// all masters together. A read exactly one second after another does not share a second with it. Reads that
/// the limits refuse do not use up the second, so that a master that asks twice too often gets half its
/// answers. Beyond::accept answers all the same; Beyond::exception answers 03 to a block too long (looked at
/// first) and 06 to a read too often. Beyond::delay is not there yet and has to be refused before it comes
/// here. Either way an excess raises the warning request-overload until kWarningStands after the last one.
class Intake {
 public:
  static constexpr Duration kWarningStands = std::chrono::seconds{2};
  /// The journal hears of excesses at most this often.
  static constexpr Duration kJournalPause = std::chrono::seconds{1};

  /// `spec` must outlive the intake; its `beyond` is not delay.
  explicit Intake(const IntakeSpec& spec);

  struct Verdict {
    std::optional<modbus::Refusal> refused;
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
  std::string sentence(bool too_long, bool too_often, int size, std::string_view master);

  const IntakeSpec& spec_;
  std::deque<SimTime> taken_;  ///< reads taken up in the last second
  std::deque<SimTime> asked_;  ///< reads that came in the last second
  std::optional<SimTime> overloaded_until_;
  std::optional<SimTime> journaled_;
  int since_journaled_ = 0;  ///< excesses the journal has not heard of
};

}  // namespace emberline::unit
