#include <algorithm>
#include <cmath>

#include "sim/base/duration_text.hpp"
#include "sim/base/quantity.hpp"
#include "sim/unit/protection_info.hpp"
#include "sim/unit/unit_core.hpp"
#include "sim/unit/words.hpp"

namespace emberline::unit {

using registers::bit;
using registers::Warning;

namespace {

/// A trip whose cause is the output itself, and goes with it.
bool ends_with_output(Protection protection) { return protection == Protection::over_current; }

}  // namespace

void VirtualUnit::Impl::supervise(SimTime now) {
  const Look look{spec_, settings_, measured_, path_.drive().output > 0.0, after_fired_};
  watch_load(now, look);
  Readings readings{};
  read_supply(look, readings);
  read_load(look, partial_load_, readings);
  read_power_stage(look, readings);
  const std::uint32_t trips_before = trips_.bits();
  for (const auto& event : protections_.see(now, readings, settings_, trips_.latched()))
    heed(now, event, look);
  watch_burst_current(now);
  watch_sensor(now);
  after_fired_ = measured_.cycle.fired;
  if (const std::uint32_t begun = trips_.bits() & ~trips_before; begun != 0) {
    std::string words;
    for (const auto& [word, number] : registers::trip_words()) {
      if ((begun & (1u << static_cast<unsigned>(number))) != 0)
        words += (words.empty() ? "trip " : " and ") + std::string(word);
    }
    refresh(now, words);
  }
}

void VirtualUnit::Impl::watch_load(SimTime now, const Look& look) {
  if (!supervises_parts()) return;
  const bool in_pause = look.on && in_bursts(spec_.firing.mode);
  if (!measured_.supply_present || (!measured_.cycle.fired && !in_pause)) {
    partial_load_.interrupted();
    return;
  }
  if (!measured_.cycle.fired) return;
  if (!partial_load_.fired(now, legs_of(measured_), conductance(measured_))) return;
  std::string legs;
  for (std::size_t leg = 0; leg < legs_of(measured_); ++leg) {
    if (!legs.empty()) legs += ", ";
    legs += format_quantity(1.0 / partial_load_.reference_S()[leg], Dimension::resistance);
  }
  note(now, "load learned: " + legs + "; partial-load-failure is judged against that");
}

void VirtualUnit::Impl::heed(SimTime now, const Protections::Event& event, const Look& look) {
  const auto& info = protection_info(event.protection);
  const bool silent = event.reading.sight == Reading::Sight::silent;
  const std::string what =
      silent ? "there is no supply to judge it by" : describe(event.protection, event.reading, look);
  if (info.warning) {
    if (event.raised) {
      raise(now, *info.warning, what);
    } else {
      lower(now, *info.warning, what);
    }
  } else if (event.raised) {
    trip(now, event.protection, !ends_with_output(event.protection), what);
  } else if (trips_.cause(event.protection)) {
    trips_.cause_gone(event.protection);
    note(now, "cause of trip " + std::string(info.word) + " gone: " + what + "; it waits for a reset by " +
                  any_of_words(spec_.protections[static_cast<std::size_t>(event.protection)].reset_by));
  }
}

void VirtualUnit::Impl::trip(SimTime now, Protection protection, bool cause_stays, const std::string& what) {
  const std::string word(protection_info(protection).word);
  if (trips_.latched(protection)) {
    trips_.cause_back(protection);
    note(now, "cause of trip " + word + " is back: " + what);
    return;
  }
  trips_.latch(protection, cause_stays);
  if (!cause_stays) protections_.forget(protection);
  note(now, "trip " + word + ": " + what +
                "; to clear it: " + (cause_stays ? "first the cause gone, then a reset by " : "a reset by ") +
                any_of_words(spec_.protections[static_cast<std::size_t>(protection)].reset_by));
}

void VirtualUnit::Impl::watch_burst_current(SimTime now) {
  // What is no more than rounding has not passed it.
  constexpr double kRounding = 1.0e-6;
  const double limit_A = settings_.current_limit_A;
  const CycleSeen& cycle = measured_.cycle;
  if (!in_bursts(spec_.firing.mode) || limit_A <= 0.0 || !cycle.fired) return;
  if (!spec_.protections[static_cast<std::size_t>(Protection::over_current)].on) return;
  if (trips_.latched(Protection::over_current)) return;
  const auto legs_end = cycle.load_A.begin() + static_cast<std::ptrdiff_t>(legs_of(measured_));
  const auto leg = std::max_element(cycle.load_A.begin(), legs_end);
  const double current_A = *leg;
  if (current_A <= limit_A * (1.0 + kRounding)) return;
  trip(now, Protection::over_current, false,
       format_quantity(current_A, Dimension::current) + " through leg l" +
           std::to_string(leg - cycle.load_A.begin() + 1) + " in a fired cycle, the current limit is " +
           format_quantity(limit_A, Dimension::current) +
           ", and a burst of whole cycles has no angle to hold the current back by");
}

void VirtualUnit::Impl::watch_sensor(SimTime now) {
  const bool stood = (warned_ & bit(Warning::sensor_fault)) != 0;
  if (measured_.cycle.sensor_fault == stood) return;
  if (stood) {
    lower(now, Warning::sensor_fault, "the zone's sensor has a value again");
  } else {
    raise(now, Warning::sensor_fault, "the zone's sensor has no value");
  }
}

void VirtualUnit::Impl::raise(SimTime now, Warning warning, const std::string& what) {
  warned_ |= bit(warning);
  if (!throttle_.lets_through(static_cast<int>(warning), now)) {
    untold_.insert_or_assign(warning, Untold{now, what});
    return;
  }
  told_of_ |= bit(warning);
  note(now, "warning " + std::string(registers::to_word(warning)) + ": " + what);
}

void VirtualUnit::Impl::lower(SimTime now, Warning warning, const std::string& what) {
  warned_ &= ~bit(warning);
  untold_.erase(warning);
  // Whoever did not read that it came need not read that it went.
  if ((told_of_ & bit(warning)) == 0) return;
  told_of_ &= ~bit(warning);
  note(now, "warning " + std::string(registers::to_word(warning)) + " gone: " + what);
}

std::optional<SimTime> VirtualUnit::Impl::untold_due() const {
  std::optional<SimTime> first;
  for (const auto& [warning, untold] : untold_) {
    const SimTime due = throttle_.next(static_cast<int>(warning));
    if (!first || due < *first) first = due;
  }
  return first;
}

// A flicker is left out, but what has come to stay is not: else the last word on it would be "gone".
void VirtualUnit::Impl::tell_late(SimTime now) {
  for (auto one = untold_.begin(); one != untold_.end();) {
    const auto& [warning, untold] = *one;
    if (!throttle_.lets_through(static_cast<int>(warning), now)) {
      ++one;
      continue;
    }
    told_of_ |= bit(warning);
    note(now,
         "warning " + std::string(registers::to_word(warning)) + ": " + untold.what + "; it came again " +
             format_duration(std::chrono::round<std::chrono::milliseconds>(now - untold.since)) + " ago");
    one = untold_.erase(one);
  }
}

}  // namespace emberline::unit
