#include <string>

#include <doctest/doctest.h>

#include "tests/sim/io/files/sample_files.hpp"
#include "tests/sim/io/files/workspace.hpp"

using namespace emberline;
using registers::Point;
using rehearsal::Conduct;
using rehearsal::ConductKind;
using Comparator = rehearsal::Condition::Comparator;
using namespace std::chrono_literals;

namespace {

/// A scenario without stand-ins that expects one thing; it begins in column 18 of line 5.
class Expecting {
 public:
  Expecting() {
    workspace_.write("bench.yaml", test::kBench);
    workspace_.write("table.yaml", test::kTable);
  }
  [[nodiscard]] Result<rehearsal::ScenarioSpec, io::Problems> load(const std::string& what) const {
    const std::string head = "scenario: T\nbench: bench.yaml\nends: 2 h\nexpect:\n  - { name: one, ";
    return io::load_scenario(workspace_.write("scenario.yaml", head + what + " }\n"));
  }
  [[nodiscard]] Conduct conduct(const std::string& what) const {
    const auto loaded = load(what);
    if (!loaded) FAIL(workspace_.lines(loaded.error()).front());
    REQUIRE(loaded->expectations.size() == 1);
    REQUIRE(loaded->expectations[0].conduct.has_value());
    return *loaded->expectations[0].conduct;
  }
  [[nodiscard]] std::string complaints(const std::string& what) const {
    const auto loaded = load(what);
    if (loaded) return "";
    std::string text;
    for (const auto& line : workspace_.lines(loaded.error())) text += (text.empty() ? "" : "\n") + line;
    return text;
  }

 private:
  test::Workspace workspace_;
};

}  // namespace

TEST_CASE("what is expected of a master's doings is read as something else") {
  const Expecting expecting;
  struct Row {
    const char* what;
    ConductKind kind;
    Comparator comparator;
    double a, b;
    Duration window;
  };
  const Row rows[] = {
      {"first_write: { soak-heater.setpoint: 50 % }", ConductKind::first_write, Comparator::equals, 0.5, 0,
       0s},
      {"last_write: { soak-heater.setpoint: { above: 50 % } }", ConductKind::last_write, Comparator::above,
       0.5, 0, 0s},
      {"every_write: { soak-heater.setpoint: { between: [0 %, 50 %] } }", ConductKind::every_write,
       Comparator::between, 0, 0.5, 0s},
      {"write_count: { soak-heater.setpoint: 3 }", ConductKind::write_count, Comparator::equals, 3, 0, 0s},
      {"write_count: { soak-heater.setpoint: 1 time }", ConductKind::write_count, Comparator::equals, 1, 0,
       0s},
      {"write_count: { soak-heater.setpoint: { at_most: 3 times } }", ConductKind::write_count,
       Comparator::at_most, 3, 0, 0s},
      {"write_count: { soak-heater.setpoint: { between: [2, 3] } }", ConductKind::write_count,
       Comparator::between, 2, 3, 0s},
      {"write_rate: { soak-heater.setpoint: { at_most: 10 per min } }", ConductKind::write_rate,
       Comparator::at_most, 10, 0, 60s},
      {"write_rate: { soak-heater.setpoint: { at_least: 1 per s } }", ConductKind::write_rate,
       Comparator::at_least, 1, 0, 1s},
      {"write_rate: { soak-heater.setpoint: { between: [1 per h, 4 per h] } }", ConductKind::write_rate,
       Comparator::between, 1, 4, 1h},
      {"poll_period: { soak-heater.state: { at_most: 2.5 s } }", ConductKind::poll_period,
       Comparator::at_most, 2.5, 0, 0s},
      {"poll_period: { soak-heater.state: { near: 2 s, tolerance: 100 ms } }", ConductKind::poll_period,
       Comparator::near, 2, 0.1, 0s},
      {"silence: { soak-heater: { at_least: 1 min } }", ConductKind::silence, Comparator::at_least, 60, 0,
       0s},
      {"retries: { soak-heater: { at_most: 2 } }", ConductKind::retries, Comparator::at_most, 2, 0, 0s},
      {"retries: { soak-heater: 0 }", ConductKind::retries, Comparator::equals, 0, 0, 0s},
      {"exceptions: { soak-heater: none }", ConductKind::exceptions, Comparator::equals, 0, 0, 0s},
      {"exceptions: { soak-heater: { at_most: 3 } }", ConductKind::exceptions, Comparator::at_most, 3, 0, 0s},
      // Codes of MODBUS Application Protocol V1.1b3, section 7, each as the bit of its number.
      {"exceptions: { soak-heater: { exclude: [02, 06] } }", ConductKind::exceptions, Comparator::exclude,
       4 + 64, 0, 0s},
      {"exceptions: { soak-heater: { include: 0x0b } }", ConductKind::exceptions, Comparator::include, 2048,
       0, 0s},
  };
  for (const auto& row : rows) {
    CAPTURE(row.what);
    const auto conduct = expecting.conduct(row.what);
    CHECK(conduct.kind == row.kind);
    REQUIRE(conduct.condition.has_value());
    CHECK(conduct.condition->comparator == row.comparator);
    CHECK(conduct.condition->a == doctest::Approx(row.a));
    CHECK(conduct.condition->b == doctest::Approx(row.b));
    CHECK(conduct.window == row.window);
  }
}

TEST_CASE("what is asked about is taken for another point, slave or line") {
  const Expecting expecting;
  const auto point = expecting.conduct("poll_period: { soak-heater.load_power: { at_most: 3 s } }");
  CHECK(point.of == Conduct::Of::point);
  CHECK(point.name == "soak-heater.load_power");
  CHECK(point.index == 0);
  CHECK(point.point == Point::load_power);
  CHECK(expecting.conduct("no_write: soak-heater.comms_timeout").point == Point::comms_timeout);
  CHECK(expecting.conduct("silence: { soak-heater: { at_most: 3 s } }").of == Conduct::Of::unit);
  CHECK(expecting.conduct("silence: { marshalling: { at_most: 3 s } }").of == Conduct::Of::io_block);
  const auto line = expecting.conduct("silence: { ethernet: { at_most: 3 s } }");
  CHECK(line.of == Conduct::Of::line);
  CHECK(line.index == 1);
  const auto back = expecting.conduct("read_back: { soak-heater.setpoint: 2 s }");
  CHECK(back.kind == ConductKind::read_back);
  CHECK(back.window == 2s);
  const auto before = expecting.conduct("read_before_write: { soak-heater.setpoint: soak-heater.state }");
  CHECK(before.kind == ConductKind::read_before_write);
  CHECK(before.point == Point::setpoint);
  CHECK(before.other_name == "soak-heater.state");
  CHECK(before.other_point == Point::state);
}

TEST_CASE("a mistake in what is expected of a master is not told where it stands") {
  const Expecting expecting;
  struct Row {
    const char* what;
    const char* expected;
  };
  const Row rows[] = {
      {"no_write: { soak-heater.setpoint: 50 % }",
       "scenario.yaml:5:28: no_write: expected a point such as soak-heater.setpoint, found keys and values"},
      {"no_write: soak-heater.setpiont",
       "scenario.yaml:5:28: unknown signal 'soak-heater.setpiont', did you mean 'soak-heater.setpoint'?"},
      {"no_write: soak-heater.state",
       "scenario.yaml:5:28: no_write: 'soak-heater.state' is no point that a master could write"},
      {"no_write: soak-heater.reset",
       "scenario.yaml:5:28: no_write: 'soak-heater.reset' is not in the register table 'Test table'"},
      {"every_write: soak-heater.setpoint",
       "scenario.yaml:5:31: every_write: expected one written point such as { soak-heater.setpoint: { "
       "at_most: 0 % "
       "} }, found 'soak-heater.setpoint'"},
      {"last_write: { soak.measured: 20 degC }",
       "scenario.yaml:5:32: last_write: 'soak.measured' is no point that a master could write"},
      {"last_write: { soak-heater.setpoint: 50 A }",
       "scenario.yaml:5:54: soak-heater.setpoint: 'A' is no unit for a percentage: expected a percentage "
       "such as '50 "
       "%'"},
      {"write_count: { soak-heater.setpoint: 2.5 }",
       "scenario.yaml:5:55: soak-heater.setpoint: expected whole numbers"},
      {"write_count: { soak-heater.setpoint: { at_most: often } }",
       "scenario.yaml:5:66: at_most: expected a plain number without a unit, found 'often'"},
      {"write_rate: { soak-heater.setpoint: { at_most: 10 } }",
       "scenario.yaml:5:65: at_most: expected a rate such as '10 per min', per s, per min or per h, found "
       "'10'"},
      {"write_rate: { soak-heater.setpoint: 10 per min }",
       "scenario.yaml:5:54: soak-heater.setpoint: expected 'at_most', 'at_least' or 'between'"},
      {"write_rate: { soak-heater.setpoint: { between: [1 per s, 100 per min] } }",
       "scenario.yaml:5:75: between: both ends have to be 'per' the same time"},
      {"poll_period: { soak-heater.setpoint: 2 s }",
       "scenario.yaml:5:55: soak-heater.setpoint: expected a comparator such as { at_most: 2.5 s }"},
      {"poll_period: { soak-heater.setpoint: { at_most: 2 } }",
       "scenario.yaml:5:66: at_most: '2' has no unit of measure: expected a time such as '3 s'"},
      {"poll_period: { soak-heater.setpoint: { at_most: 0 s } }",
       "scenario.yaml:5:55: soak-heater.setpoint: expected a time above 0"},
      {"poll_period: { soak-heater.energy: { at_most: 2 s } }",
       "scenario.yaml:5:33: poll_period: 'soak-heater.energy' cannot be read by the register table 'Test "
       "table'"},
      {"poll_period: { soak.measured: { at_most: 2 s } }",
       "scenario.yaml:5:33: poll_period: 'soak.measured' is no point of a unit"},
      {"silence: { soak-heatre: { at_most: 3 s } }",
       "scenario.yaml:5:29: unknown unit, io-block or line 'soak-heatre', did you mean 'soak-heater'?"},
      {"retries: { field: { at_most: 3 } }",
       "scenario.yaml:5:29: unknown unit or io-block 'field'; known: soak-heater, marshalling"},
      {"exceptions: { soak-heater: { exclude: [07] } }",
       "scenario.yaml:5:57: exclude: '07' is no exception code; known: 01, 02, 03, 04, 05, 06, 08, 0A, 0B"},
      {"exceptions: { soak-heater: { exclude: [06], at_most: 3 } }",
       "scenario.yaml:5:62: soak-heater: one comparator, found 'exclude' and 'at_most'"},
      {"exceptions: { soak-heater: some }",
       "scenario.yaml:5:45: soak-heater: expected a plain number without a unit, found 'some'"},
      {"read_back: { soak-heater.setpoint: 0 s }",
       "scenario.yaml:5:53: soak-heater.setpoint: '0 s' must be above 0"},
      {"read_before_write: { soak-heater.setpoint: soak-heater.energy }",
       "scenario.yaml:5:61: read_before_write: 'soak-heater.energy' cannot be read by the register table "
       "'Test table'"},
      {"retries: { soak-heater: 0, marshalling: 0 }",
       "scenario.yaml:5:45: retries: one unit or io-block at a time, found 2"},
      {"first_write: { soak-heater.setpoint: 50 %, soak-heater.comms_timeout: 3 s }",
       "scenario.yaml:5:61: first_write: one point at a time, found 2"},
  };
  for (const auto& row : rows) {
    CAPTURE(row.what);
    CHECK(expecting.complaints(row.what) == row.expected);
  }
}
