#include "tests/sim/io/report/sample_verdict.hpp"

#include <cstdlib>
#include <fstream>
#include <limits>
#include <sstream>

#include <doctest/doctest.h>

namespace emberline::testing {
namespace {

using namespace std::chrono_literals;
using rehearsal::Outcome;
using rehearsal::Trend;
using rehearsal::Verdict;

SimTime at(Duration since) { return SimTime{since}; }

void add_expectations(Verdict& made) {
  Outcome failed{"heats", Outcome::Result::failed, "expected heat; it was cold\x01", at(30500ms), {}};
  failed.around.signals = {"heater.state", "heater.load_power"};
  failed.around.rows = {{at(30300ms), {"running", "11.9 kW"}},
                        {at(30500ms), {"inhibited", "0 W"}},
                        {at(30700ms), {"inhibited", "0 W"}}};
  made.outcomes = {{"heats", Outcome::Result::passed, "always so", at(20s), {}},
                   failed,
                   {"ends",
                    Outcome::Result::not_judged,
                    "could not be judged: the run ended first, at 60 s",
                    at(60s),
                    {}}};
}

void add_trends(Verdict& made) {
  Trend temperature{"zone.measured", "degC", {}, {}};
  Trend power{"heater.load_power", "kW", {}, {}};
  for (int i = 0; i <= 60; ++i) {
    const double sinks = i < 30 ? i * 0.5 : 15.0 - (i - 30) * 0.25;
    temperature.points.push_back({at(i * 1s), 540.0 + sinks, 540.1 + sinks});
    const double given = i < 30 ? 11.9 : 0.0;
    power.points.push_back({at(i * 1s), given, i == 30 ? 12.0 : given});
  }
  // A broken sensor has no value.
  for (std::size_t i = 45; i < 50; ++i)
    temperature.points[i].low = temperature.points[i].high = std::numeric_limits<double>::quiet_NaN();
  Trend state{"heater.state", "", {{3, "running"}, {6, "inhibited"}}, {}};
  state.points = {{at(0s), 3, 3}, {at(30500ms), 6, 6}};
  Trend relay{"heater.relay.K1", "", {{0, "off"}, {1, "on"}}, {}};
  relay.points = {{at(0s), 1, 1}, {at(30500ms), 0, 1}, {at(40s), 0, 0}};
  Trend level{"other.output", "%", {}, {{at(0s), 25, 25}, {at(60s), 25, 25}}};
  made.trends = {temperature, power, state, relay, level};
}

void add_traffic(Verdict& made) {
  made.traffic.lines = {{"field", 95, 80, 2, 0.25, 14s}};
  bench::TrafficPair pair;
  pair.line = "field";
  pair.master = "plc";
  pair.unit_id = 7;
  pair.slave = "heater";
  pair.requests = 95;
  pair.per_second = 1.58333;
  pair.writes = 3;
  pair.exceptions = {{2, 1}, {6, 4}};
  pair.silent = 15;
  pair.retries = 9;
  pair.late = 1;
  pair.blocks = {{3, 64, 2, 60}, {3, 70, 1, 32}, {6, 48, 1, 3}};
  pair.merges = {{{0, 1}, 64, 7}};
  pair.kept_writes = {{"comms_timeout", 3, 20s}};
  made.traffic.pairs = {pair};
  made.plan_reviews = {{"Poll <this> & that",
                        "field",
                        {"the plan takes 12.5 % of field, the master 25 %",
                         "nobody reads 3 registers from 0x0050 (40081) of heater"}}};
  made.writes = {{"plc", "heater.setpoint", 3, 1, at(2s), "50 %", at(31s), "0 %", "0 %", "50 %"}};
  made.silences = {{"heater", 10s, at(30500ms)}};
  made.closest_calls = {{"heater", 2s + 15ms, 3s}, {"other", 0s, 0s}};
  made.transactions = 95;
  made.mistaken_answers = 1;
}

}  // namespace

Verdict sample_verdict() {
  Verdict made;
  made.title = "Cable <pulled> & \"plugged\" at 540 °C – größer";
  made.file_stem = "cable-pulled";
  made.why = "Because <b>somebody</b> & 'somebody else' asked.";
  made.version = "1.2.3";
  made.seed = 3;
  made.ended = at(60s);
  made.files = {{"cable-pulled.yaml", std::string(64, 'a')}, {"bench <1>.yaml", std::string(64, '0')}};
  made.marks = {{at(20s), "cut field", false}, {at(30s), "restore field", true}};
  made.journal = {{at(20s), "field", "cable pulled"}, {at(23s), "heater", "state running -> inhibited"}};
  made.real_master = true;
  made.by_hand = true;
  made.wall_clock = true;
  made.plant_speed = 2.5;
  add_expectations(made);
  add_trends(made);
  add_traffic(made);
  return made;
}

std::string content_of(const std::string& path) {
  std::ifstream file(path, std::ios::binary);
  std::ostringstream text;
  text << file.rdbuf();
  return text.str();
}

void check_golden(const std::string& name, const std::string& text) {
  const std::string path = std::string(EMBERLINE_SOURCE_DIR) + "/tests/sim/io/report/" + name;
  if (std::getenv("EMBERLINE_WRITE_GOLDEN") != nullptr) {
    std::ofstream(path, std::ios::binary) << text;
    return;
  }
  const bool same = text == content_of(path);
  CHECK_MESSAGE(same, (name + " differs from what is written now; when that is meant, write it anew with "
                              "EMBERLINE_WRITE_GOLDEN=1 build/test_io_report and look at the difference"));
}

}  // namespace emberline::testing
