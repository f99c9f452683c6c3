#include "sim/unit/protections.hpp"

#include <algorithm>

#include "sim/unit/protection_info.hpp"

namespace emberline::unit {
namespace {

/// How far back a value has to go. Never further than half way to what it reads where nothing is wrong: what
/// a small threshold and a large hysteresis would keep for ever could not be reset either.
double way_back(const ProtectionInfo& info, double threshold, double hysteresis) {
  if (!info.sound) return hysteresis;
  const double room = info.acts == Side::above ? threshold - *info.sound : *info.sound - threshold;
  return std::min(hysteresis, std::max(room, 0.0) / 2.0);
}

}  // namespace

std::vector<Protections::Event> Protections::see(SimTime at, const Readings& readings,
                                                 const Settings& settings, std::uint32_t latched) {
  using Sight = Reading::Sight;
  std::vector<Event> events;
  for (const auto& info : all_protections()) {
    const auto p = static_cast<std::size_t>(info.protection);
    One& one = all_[p];
    const Reading& reading = readings[p];
    const Sight sight = specs_[p].on ? reading.sight : Sight::silent;
    if (sight == Sight::between) continue;
    if (sight != Sight::seen) {
      one.since.reset();
      // Of what has latched, only a look at it can say that the cause has gone.
      if (sight == Sight::silent && one.stands && (latched & (1u << p)) == 0) {
        one.stands = false;
        events.push_back({info.protection, false, reading});
      }
      continue;
    }
    // Measured so that it is above 0 when the value is on the wrong side.
    const double beyond = info.acts == Side::above ? reading.value - settings.threshold[p]
                                                   : settings.threshold[p] - reading.value;
    if (beyond > 0.0) {
      if (!one.since) one.since = at;
      const Duration delay = (latched & (1u << p)) != 0 ? Duration{} : from_seconds(settings.delay_s[p]);
      if (one.stands || at - *one.since < delay) continue;
      one.stands = true;
      events.push_back({info.protection, true, reading});
      continue;
    }
    one.since.reset();
    const double hysteresis = info.protection == Protection::partial_load_failure
                                  ? settings.partial_load_hysteresis
                                  : specs_[p].hysteresis;
    if (!one.stands || -beyond < way_back(info, settings.threshold[p], hysteresis)) continue;
    one.stands = false;
    events.push_back({info.protection, false, reading});
  }
  return events;
}

void Protections::forget() { all_ = {}; }

void Protections::forget(Protection protection) { all_[static_cast<std::size_t>(protection)] = {}; }

bool Protections::stands(Protection protection) const {
  return all_[static_cast<std::size_t>(protection)].stands;
}

bool Protections::watching() const {
  return std::any_of(all_.begin(), all_.end(),
                     [](const One& one) { return one.since.has_value() && !one.stands; });
}

}  // namespace emberline::unit
