#include "sim/unit/relays.hpp"

namespace emberline::unit {

bool coil_energised(const RelaySpec& spec, const RelayInputs& inputs) {
  if (!inputs.powered) return false;
  const bool alarm = (inputs.warnings & spec.on_warnings) != 0 || (inputs.trips & spec.on_trips) != 0;
  return spec.coil == Coil::energised_on_alarm ? alarm : !alarm;
}

bool contact_closed(const RelaySpec& spec, const RelayInputs& inputs) {
  const bool energised = coil_energised(spec, inputs);
  return spec.contact == Contact::normally_closed ? !energised : energised;
}

}  // namespace emberline::unit
