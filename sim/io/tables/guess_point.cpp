#include "sim/io/tables/guess_point.hpp"

#include <algorithm>
#include <map>
#include <unordered_map>
#include <utility>

#include "sim/io/tables/guess_words.hpp"

namespace emberline::io {
namespace {

using registers::Point;

struct Alias {
  std::string_view point;  ///< of one with phases: without the phase
  std::string_view names;  ///< with commas between
};

/// Names that points go by beside their own words (common practice, no source).
constexpr Alias kAliases[] = {
    {"setpoint", "power setpoint, output setpoint, setpoint comms, remote setpoint"},
    {"setpoint_local", "local setpoint, analog setpoint, analogue setpoint"},
    {"setpoint_active", "active setpoint, effective setpoint, setpoint in use"},
    {"setpoint_source",
     "source of setpoint, setpoint select, setpoint selection, local remote, control source"},
    {"output", "output power, output level, power output, controller output, manipulated variable"},
    {"firing_angle", "control angle"},
    {"load_voltage", "voltage, output voltage, element voltage"},
    {"load_current", "current, output current, element current"},
    {"load_power", "power, active power, output power, real power, element power, active load power"},
    {"line_current", "current, supply current, input current"},
    {"supply_voltage", "voltage, line voltage, input voltage"},
    {"power_factor", "load power factor"},
    {"dc_current", "dc component, dc offset current"},
    {"load_resistance", "resistance, element resistance"},
    {"supply_frequency", "frequency, line frequency"},
    {"demand", "power demand"},
    {"peak_demand", "peak power demand"},
    {"element_temperature", "temperature"},
    {"heatsink_temperature", "temperature, thyristor temperature"},
    {"load_intact", "load health"},
    {"energy", "load energy, active energy, energy counter, energy meter, active load energy"},
    {"run_time", "runtime"},
    {"state",
     "device state, output state, controller state, operating state, unit state, operation state, "
     "operating mode"},
    {"warnings", "warning, active warning, warning state"},
    {"trips", "trip, active trip, trip state"},
    {"comms_age", "time since last message, comms silence"},
    {"comms_timeout",
     "timeout, watchdog timeout, comms watchdog timeout, watchdog time, comms watchdog time, "
     "watchdog, comms watchdog"},
    {"comms_policy",
     "comms lost action, comms lost reaction, action comms lost, watchdog action, "
     "comms timeout action, comms trip action, comms trip reaction"},
    {"comms_gap_longest", "longest comms gap, peak comms gap"},
    {"heartbeat", "heartbeat counter, watchdog counter"},
    {"reset", "reset trip, reset warning, reset latch, reset command, reset trip warning"},
    {"current_limit", "load current limit, output current limit"},
    {"voltage_limit", "load voltage limit, output voltage limit"},
    {"power_limit", "load power limit, output power limit"},
    {"learn_load", "load learn, teach load, load teach"},
};

/// Names of warnings and trips; which of the two is meant, the words warning and trip tell.
constexpr Alias kFlagAliases[] = {
    {"comms-loss", "comms, comms timeout, watchdog, watchdog timeout, comms watchdog"},
    {"supply-absent", "supply, supply lost, supply off, no supply"},
    {"supply-low",
     "supply voltage low, low voltage, under voltage, supply under voltage, low supply voltage"},
    {"supply-high",
     "supply voltage high, high voltage, over voltage, supply over voltage, high supply voltage"},
    {"supply-frequency", "frequency, frequency deviation"},
    {"current-limit", "current limit active"},
    {"voltage-limit", "voltage limit active"},
    {"power-limit", "power limit active"},
    {"load-open", "open load, load lost, load break, open circuit load, open circuit"},
    {"partial-load-failure",
     "partial load lost, load partial, element break, element broken, partial load break"},
    {"heatsink-warm",
     "heatsink, heatsink temperature, temperature high, heatsink temperature high, heatsink hot"},
    {"request-overload", "too many request, comms overload"},
    {"sensor-fault", "sensor, sensor break, sensor broken"},
    {"over-current", "current high"},
    {"phase-lost", "phase, lost phase"},
    {"fuse-open", "fuse"},
    {"heatsink-over-temperature",
     "over temperature, heatsink, heatsink temperature, temperature high, heatsink temperature high, "
     "heatsink hot, "
     "thyristor over temperature"},
    {"thyristor-shorted", "thyristor"},
};

/// Labels that numbers of enumerations go by.
constexpr Alias kValueAliases[] = {
    {"unpowered", "no power, power off, no supply"},
    {"starting", "start, start up, startup, booting, initialising, initializing, init"},
    {"stopped", "stop, off, standby, stand by, idle, ready, disabled"},
    {"running", "run, on, active, enabled, heating, normal, operation, operating"},
    {"holding", "hold, held"},
    {"preset", "fallback, fall back, safe value, substitute value"},
    {"inhibited", "inhibit, blocked, locked, locked out"},
    {"tripped", "trip"},
    {"hold-last-command",
     "hold, hold last, hold last value, keep, keep last value, freeze, last value, continue"},
    {"latch-to-inhibit", "latch, inhibit, off, stop, shut down, switch off"},
    {"go-to-preset", "preset, fallback, fall back, safe value, substitute value, default value"},
    {"register", "remote, comms, digital, network"},
    {"local", "analog, analogue, terminal, manual, panel, front panel"},
};

std::vector<std::string> listed_in(std::string_view names) {
  std::vector<std::string> found;
  while (!names.empty()) {
    const auto comma = std::min(names.find(','), names.size());
    found.emplace_back(names.substr(0, comma));
    names.remove_prefix(std::min(comma + 1, names.size()));
  }
  return found;
}

std::string_view aliases_of(std::span<const Alias> list, std::string_view word) {
  const auto found = std::find_if(list.begin(), list.end(), [&](const Alias& a) { return a.point == word; });
  return found == list.end() ? std::string_view{} : found->names;
}

/// The key of a name, its phase with it.
std::string keyed(const NameWords& words) {
  return words.phase == 0 ? words.key : words.key + " " + std::to_string(words.phase);
}

using Index = std::unordered_map<std::string, std::vector<MappedPoint>>;

void add(Index& index, const std::string& key, const MappedPoint& point) {
  auto& points = index[key];
  if (std::find(points.begin(), points.end(), point) == points.end()) points.push_back(point);
}

Index make_point_index() {
  Index index;
  for (const auto& info : registers::all_points()) {
    MappedPoint point;
    point.point = info.point;
    const auto own = name_words(info.name);
    add(index, keyed(own), point);
    auto family = info.name;
    if (own.phase != 0) family = family.substr(0, family.size() - 3);  // "_l1"
    for (const auto& name : listed_in(aliases_of(kAliases, family))) {
      auto words = name_words(name);
      words.phase = own.phase;
      add(index, keyed(words), point);
    }
  }
  return index;
}

/// Of a flag, without what tells whether it is a warning or a trip.
std::string flag_key(const NameWords& words) {
  return without_word(without_word(keyed(words), "warning"), "trip");
}

Index make_flag_index() {
  Index index;
  for (const auto of : {Point::warnings, Point::trips}) {
    for (const auto& [word, number] : registers::point_info(of).flags) {
      MappedPoint point;
      point.point = of;
      point.flag = number;
      add(index, flag_key(name_words(word)), point);
      for (const auto& name : listed_in(aliases_of(kFlagAliases, word)))
        add(index, flag_key(name_words(name)), point);
    }
  }
  return index;
}

using ValueIndex = std::map<std::pair<Point, std::string>, std::vector<int>>;

ValueIndex make_value_index() {
  ValueIndex index;
  for (const auto& info : registers::all_points()) {
    for (const auto& [word, number] : info.values) {
      index[{info.point, keyed(name_words(word))}].push_back(number);
      for (const auto& name : listed_in(aliases_of(kValueAliases, word)))
        index[{info.point, keyed(name_words(name))}].push_back(number);
    }
  }
  return index;
}

const Index& point_index() {
  static const Index index = make_point_index();
  return index;
}

const Index& flag_index() {
  static const Index index = make_flag_index();
  return index;
}

const std::vector<MappedPoint>* find_in(const Index& index, const std::string& key) {
  const auto found = index.find(key);
  return found == index.end() ? nullptr : &found->second;
}

}  // namespace

std::string words_of(const MappedPoint& point) {
  if (point.text) return std::string(to_word(*point.text));
  if (!point.point) return {};
  const auto& info = registers::point_info(*point.point);
  std::string text(info.name);
  if (point.flag)
    for (const auto& [word, number] : info.flags)
      if (number == *point.flag) text += "." + std::string(word);
  return text;
}

std::string words_of(const std::vector<MappedPoint>& points) {
  std::string text;
  for (const auto& point : points) text += (text.empty() ? "" : ", ") + words_of(point);
  return text;
}

std::optional<MappedPoint> point_by_own_word(std::string_view name) { return mapped_point(name); }

PointGuess guess_point(std::string_view name, std::optional<Dimension> unit) {
  PointGuess guess;
  auto words = name_words(name);
  const auto* known = find_in(point_index(), keyed(words));
  // "Current setpoint" is the setpoint as it is now.
  if (known == nullptr && unit != Dimension::current) {
    words.key = without_word(words.key, "current");
    if (!words.key.empty()) known = find_in(point_index(), keyed(words));
  }
  if (known == nullptr) return guess;
  for (const auto& point : *known) {
    const auto dimension = registers::point_info(*point.point).dimension;
    (!unit || *unit == dimension ? guess.candidates : guess.other_unit).push_back(point);
  }
  return guess;
}

PointGuess guess_flag(std::string_view name, std::string_view of) {
  PointGuess guess;
  const auto words = name_words(name);
  const auto* known = find_in(flag_index(), flag_key(words));
  if (known == nullptr) return guess;
  guess.candidates = *known;
  auto around = name_words(of);
  around.trip = around.trip || around.failure;  // a word of failures is one of trips
  const auto only = [&guess](Point point) {
    std::vector<MappedPoint> of_it;
    std::copy_if(guess.candidates.begin(), guess.candidates.end(), std::back_inserter(of_it),
                 [&](const auto& candidate) { return candidate.point == point; });
    if (!of_it.empty()) guess.candidates = std::move(of_it);
  };
  // What the bit's own name says comes before what its register is called.
  const auto& telling = words.warning != words.trip ? words : around;
  if (telling.warning != telling.trip && guess.candidates.size() > 1)
    only(telling.warning ? Point::warnings : Point::trips);
  return guess;
}

std::optional<int> guess_value(Point point, std::string_view label) {
  static const ValueIndex index = make_value_index();
  const auto found = index.find({point, keyed(name_words(label))});
  if (found == index.end()) return std::nullopt;
  const auto& numbers = found->second;
  const bool one = std::all_of(numbers.begin(), numbers.end(), [&](int n) { return n == numbers.front(); });
  return one ? std::optional(numbers.front()) : std::nullopt;
}

}  // namespace emberline::io
