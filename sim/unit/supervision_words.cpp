#include "sim/base/quantity.hpp"
#include "sim/unit/supervision.hpp"
#include "sim/unit/words.hpp"

namespace emberline::unit {

namespace {

std::string named(std::size_t where) { return "l" + std::to_string(where + 1); }

std::string amperes(double share_of_rated, const Look& look) {
  return format_quantity(share_of_rated * look.spec.rated_current_A, Dimension::current);
}

std::string volts(const Reading& reading, const Look& look) {
  return format_quantity(reading.value * look.measured.cycle.nominal_supply_V, Dimension::voltage) + " in " +
         named(reading.where) + ", " + percent_text(reading.value) + " of the nominal voltage";
}

}  // namespace

std::string describe(Protection protection, const Reading& reading, const Look& look) {
  switch (protection) {
    case Protection::supply_low:
    case Protection::supply_high:
      return volts(reading, look);
    case Protection::phase_lost:
      return format_quantity(reading.value * look.measured.cycle.nominal_between_V, Dimension::voltage) +
             " between " + named(reading.where) + " and another line, " + percent_text(reading.value) +
             " of the nominal voltage";
    case Protection::supply_frequency:
      return format_quantity(look.measured.cycle.frequency_Hz, Dimension::frequency) + " instead of " +
             format_quantity(look.measured.cycle.nominal_frequency_Hz, Dimension::frequency);
    case Protection::load_open:
      return format_quantity(look.measured.cycle.load_A[reading.where], Dimension::current) + " in leg " +
             named(reading.where) + " at " +
             format_quantity(look.measured.cycle.load_V[reading.where], Dimension::voltage);
    case Protection::partial_load_failure:
      return "leg " + named(reading.where) + " conducts " + percent_text(reading.value) +
             " of what was learned";
    case Protection::heatsink_warm:
    case Protection::heatsink_over_temperature:
      return "heat sink at " + format_quantity(reading.value, Dimension::temperature);
    case Protection::over_current:
      return amperes(reading.value, look) + " in " + named(reading.where) + ", " +
             percent_text(reading.value) + " of the rated current";
    case Protection::overload:
      return "the fuse in " + named(reading.where) + " has taken " + percent_text(reading.value) +
             " of what melts it";
    case Protection::fuse_open:
      return reading.value > 0.0 ? "the fuse in " + named(reading.where) + " has melted"
                                 : "all fuses are whole";
    case Protection::thyristor_shorted:
      return amperes(reading.value, look) + " in " + named(reading.where) + " while the unit is off";
  }
  return "";
}

}  // namespace emberline::unit
