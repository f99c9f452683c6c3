#pragma once

#include <cstddef>
#include <cstdint>
#include <string>
#include <vector>

#include "sim/base/sim_time.hpp"

namespace emberline::rehearsal {

/// A signal over the run, thinned out to what a plot can show. A quantity has in each of `points` the lowest
/// and the highest value since the point before. What has names has a point at each change, which holds until
/// the next; low and high differ where it went back and forth too often for a plot. Values are in `unit`,
/// what registers of tables without a scale carry (powers in kW and kVA); words and flags as their numbers.
/// NaN: no value.
struct Trend {
  struct Point {
    SimTime at;
    double low = 0.0;
    double high = 0.0;
  };
  std::string signal;
  std::string unit;  ///< "degC", "%", "kW"; empty: words, flags and plain numbers
  /// Values with names, such as states and switches: {6, "inhibited"}, {0, "off"}; empty: a quantity.
  struct Name {
    double value = 0.0;
    std::string name;
  };
  std::vector<Name> names;
  std::vector<Point> points;
};

/// Something that was done to the bench, as it happened.
struct Mark {
  SimTime at;
  std::string text;       ///< "cut field", "cycle soak-heater.terminal.enable"
  bool by_human = false;  ///< asked for, and confirmed
};

/// Signals around the instant at which an expectation was decided.
struct Around {
  std::vector<std::string> signals;
  struct Row {
    SimTime at;
    std::vector<std::string> values;  ///< one for each signal, in its words
  };
  std::vector<Row> rows;  ///< in the order of time
};

/// A file that took part, for the fingerprint in reports.
struct InputFile {
  std::string name;    ///< without its folders
  std::string sha256;  ///< 64 hexadecimal digits
  std::string path{};  ///< as it was found on disk, for whoever runs it; no report has it
};

/// What a master wrote to one point, in one line.
struct WritesOfPoint {
  std::string master;
  std::string point;  ///< "soak-heater.setpoint"
  std::uint64_t times = 0;
  std::uint64_t refused = 0;
  SimTime first_at;
  std::string first;  ///< the value asked for, in words
  SimTime last_at;
  std::string last;
  std::string lowest;
  std::string highest;
};

/// The longest time for which a slave heard nothing that it had to answer; the start and the end of the run
/// count as ends of it.
struct Silence {
  std::string slave;
  Duration longest{};
  SimTime until;
};

}  // namespace emberline::rehearsal
