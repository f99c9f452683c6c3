#pragma once

#include <cstddef>
#include <cstdint>
#include <optional>
#include <string>

#include "sim/base/sim_time.hpp"
#include "sim/registers/point.hpp"
#include "sim/rehearsal/condition.hpp"

namespace emberline::rehearsal {

/// What is asked about the doings of a master in an interval. All count when the slave has the request,
/// refused ones too, whichever master it was unless `by` says which.
enum class ConductKind : std::uint8_t {
  first_write,        ///< the first write of the point asks for such a value
  last_write,         ///< the last one does
  every_write,        ///< each one does
  no_write,           ///< there is none
  write_count,        ///< so many
  write_rate,         ///< so many in any `window` of the interval
  poll_period,        ///< from one read of the point to the next it takes so long, each time
  silence,            ///< the slave (or the line) hears nothing for so long, between requests and at the ends
  retries,            ///< so many requests were the one before once more, for want of an answer
  exceptions,         ///< the slave answered with such exceptions: how many, or which (bits 1 << code)
  read_back,          ///< every accepted write of the point is followed by a read of it within `window`
  read_before_write,  ///< the first write of `point` comes after a read of `other_point`
};

/// An expectation on what the master did. Kinds are told apart by the key they stand under in the file.
struct Conduct {
  std::string name;                    ///< as written: "soak-heater.setpoint", "soak-heater", "field"
  std::size_t index = 0;               ///< of the unit, io-block or line in the bench
  std::string other_name;              ///< read_before_write, as written
  std::size_t other_index = 0;         ///< its unit
  std::string by;                      ///< a stand-in; empty: any master
  Duration window{};                   ///< write_rate, read_back
  std::optional<Condition> condition;  ///< on the value, count, rate (in `window`), time
  registers::Point point = registers::Point::setpoint;        ///< Of::point
  registers::Point other_point = registers::Point::setpoint;  ///< that of `other_name` to be read
  ConductKind kind = ConductKind::first_write;
  /// What it is about.
  enum class Of : std::uint8_t { point, unit, io_block, line } of = Of::point;
  bool one_of_several = false;  ///< the scenario has further stand-ins besides the one that `by` names
};

}  // namespace emberline::rehearsal
