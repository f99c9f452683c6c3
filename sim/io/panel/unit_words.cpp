#include "sim/io/panel/unit_words.hpp"

#include <algorithm>
#include <cmath>

#include "sim/base/duration_text.hpp"
#include "sim/base/quantity.hpp"
#include "sim/unit/words.hpp"

namespace emberline::io {
namespace {

using registers::Point;
using registers::State;
using registers::Trip;
using registers::Warning;

/// One unit in one snapshot.
struct Look {
  const BenchFacts& facts;
  const Snapshot& snapshot;
  std::size_t unit;

  [[nodiscard]] double value(Point point) const { return snapshot.point(facts, unit, point); }
  [[nodiscard]] bool warns(Warning warning) const {
    return (static_cast<std::uint32_t>(value(Point::warnings)) & registers::bit(warning)) != 0;
  }
  [[nodiscard]] bool tripped(Trip trip) const {
    return (static_cast<std::uint32_t>(value(Point::trips)) & registers::bit(trip)) != 0;
  }
  /// Of all phases: their mean says little when one alone is live.
  [[nodiscard]] double greatest_current_A() const {
    double greatest_A = 0.0;
    for (const auto phase : {Point::load_current_l1, Point::load_current_l2, Point::load_current_l3})
      greatest_A = std::max(greatest_A, value(phase));  // what is not a number is passed over
    return greatest_A;
  }
  [[nodiscard]] const Snapshot::Unit& seen() const { return snapshot.units[unit]; }
  [[nodiscard]] const unit::UnitSpec& spec() const { return facts.spec.units[unit].unit; }
};

std::string percent(double fraction) {
  return format_quantity(std::round(fraction * 1000.0) / 1000.0, Dimension::ratio);
}

std::string seconds(Duration time) {
  const double tenths = std::round(to_seconds(time) * 10.0) / 10.0;
  return format_number(tenths) + " s";
}

const char* source_words(const Look& look) {
  return look.value(Point::setpoint_source) != 0.0 ? "its own local setpoint" : "the register";
}

/// What a trip means, without the word for it.
const char* trip_words(Trip trip) {
  switch (trip) {
    case Trip::comms_loss:
      return "no feeding request came in time";
    case Trip::over_current:
      return "the current was too high";
    case Trip::phase_lost:
      return "a phase of the supply is missing";
    case Trip::fuse_open:
      return "a fuse has melted";
    case Trip::heatsink_over_temperature:
      return "the heat sink is too hot";
    case Trip::thyristor_shorted:
      return "current flows that nobody asked for: a thyristor no longer blocks";
  }
  return "";
}

std::string says_tripped(const Look& look) {
  std::string why;
  for (const auto trip : {Trip::over_current, Trip::phase_lost, Trip::fuse_open,
                          Trip::heatsink_over_temperature, Trip::thyristor_shorted}) {
    if (look.tripped(trip)) why += (why.empty() ? "" : ", and ") + std::string(trip_words(trip));
  }
  return "Tripped and off: " + why + ". It stays off until the cause is gone and a reset is seen.";
}

std::string says_inhibited(const Look& look) {
  const auto& seen = look.seen();
  const auto& ways = look.spec().comms_loss.reset_by;
  std::string text = "Latched off: no feeding request came for " + seconds(seen.watchdog.timeout) + ". ";
  if (!seen.lost)
    text += "Comms are back, but it stays off until a reset is seen";
  else
    text += "It stays off until comms are back and then a reset is seen";
  return text + " (" + unit::any_of_words(ways) + ").";
}

/// What holds the output below its setpoint, if anything does.
std::string says_limits(const Look& look) {
  std::string text;
  if (look.warns(Warning::current_limit)) text += " The current limit holds it back.";
  if (look.warns(Warning::voltage_limit)) text += " The voltage limit holds it back.";
  if (look.warns(Warning::power_limit)) text += " The power limit holds it back.";
  return text;
}

std::string says_running(const Look& look) {
  const double setpoint = look.value(Point::setpoint_active);
  const double output = look.value(Point::output);
  if (setpoint <= 0.0 && output <= 0.0)
    return std::string("Ready, output 0: ") + source_words(look) + " asks for 0 %.";
  std::string text = "Running at " + percent(output) + " of full output";
  const bool open_loop = look.spec().control.variable == unit::ControlVariable::open_loop;
  if (open_loop && std::abs(setpoint - output) < 0.0005)
    text += std::string(", as ") + source_words(look) + " says.";
  else
    text += std::string("; ") + source_words(look) + " asks for " + percent(setpoint) + ".";
  if (look.warns(Warning::supply_absent)) text += " There is no supply: no power reaches the load.";
  return text + says_limits(look);
}

std::string says_without_comms(const Look& look) {
  const auto lost = "No feeding request came for " + seconds(look.seen().age) + ": it ";
  if (look.snapshot.state(look.facts, look.unit) == State::holding)
    return lost + "goes on with the last command, output " + percent(look.value(Point::output)) +
           ", and nobody is in control of the load.";
  return lost + "has gone to its preset of " + percent(look.spec().comms_loss.preset) + ", output " +
         percent(look.value(Point::output)) + ", until a new setpoint is written.";
}

std::string says_state(const Look& look) {
  switch (look.snapshot.state(look.facts, look.unit)) {
    case State::unpowered:
      return "Without control supply: it answers nobody and fires no thyristor.";
    case State::starting:
      return "Starting up: its control supply is back, and it does not answer yet.";
    case State::stopped:
      return "Off: terminal enable is open.";
    case State::running:
      return says_running(look);
    case State::holding:
      return says_without_comms(look);
    case State::preset:
      if (!look.seen().lost)
        return "Comms are back, but it stays at its preset, output " + percent(look.value(Point::output)) +
               ", until a new setpoint is written.";
      return says_without_comms(look);
    case State::inhibited:
      return says_inhibited(look);
    case State::tripped:
      return says_tripped(look);
  }
  return "";
}

}  // namespace

bool leaks(const BenchFacts& facts, const Snapshot& snapshot, std::size_t unit) {
  const Look look{facts, snapshot, unit};
  return facts.spec.units[unit].load.leakage_A > 0.0 && look.value(Point::output) <= 0.0 &&
         !look.warns(Warning::supply_absent) && look.value(Point::load_voltage) > 0.0;
}

std::string unit_says(const BenchFacts& facts, const Snapshot& snapshot, std::size_t unit) {
  const Look look{facts, snapshot, unit};
  std::string text = says_state(look);
  if (look.value(Point::output) > 0.0) return text;
  // More than leakage: half a percent of the rated current while nothing is asked for.
  constexpr double kMoreThanLeakage = 0.005;
  const double current_A = look.greatest_current_A();
  if (current_A > kMoreThanLeakage * look.spec().rated_current_A)
    return text + " Yet " + format_quantity(std::round(current_A * 100.0) / 100.0, Dimension::current) +
           " flow: the load is live.";
  if (leaks(facts, snapshot, unit)) text += " Its thyristors leak: the load is not isolated.";
  return text;
}

}  // namespace emberline::io
