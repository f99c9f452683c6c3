#include "sim/io/tables/plan_formats.hpp"

#include <chrono>
#include <memory>
#include <sstream>
#include <string>

#include <boost/json.hpp>
#include <doctest/doctest.h>

using namespace emberline;
using namespace std::chrono_literals;

// Plans made up here, to see what is said of cases that a good bench does not give. What a real plan looks
// like in each form, poll_plan.py reads with the tools of others.

namespace {

polling::PlannedRequest request_to(std::size_t slave, const std::string& name, int function,
                                   std::vector<std::size_t> brings) {
  polling::PlannedRequest request;
  request.slave = slave;
  request.slave_name = name;
  request.id = static_cast<int>(slave) + 1;
  request.write = function == 6;
  request.function = function;
  request.range = {0x0040, static_cast<std::uint16_t>(request.write ? 1 : 4)};
  request.every = 1s;
  request.phase = 40ms;
  request.exchange = {4583us, 10ms, 20ms};
  request.brings = std::move(brings);
  request.bridged = request.write ? 0 : 3;
  return request;
}

polling::WatchdogAdvice advice(std::size_t unit, const std::string& name, Duration timeout) {
  polling::WatchdogAdvice advice;
  advice.unit = unit;
  advice.unit_name = name;
  advice.timeout = timeout;
  advice.longest_gap = 1020ms;
  advice.longest_gap_dead = 1620ms;
  advice.any_phase_gap = 1699ms + 300us;
  advice.any_phase_timeout = 1700ms;
  advice.worst_neighbour = "other";
  advice.shortest_timeout = 1621ms;
  return advice;
}

/// Two units, one read and one write, of a user who likes marks.
polling::PollPlan made_up() {
  auto bench = std::make_shared<bench::BenchSpec>();
  bench->title = "A \"bench\", | with *) marks";
  bench->lines.resize(1);
  bench->lines[0].name = "field-2";
  bench->units.resize(2);
  for (std::size_t i = 0; i < 2; ++i) bench->units[i].unit.id = static_cast<int>(i) + 1;
  bench->units[0].unit.intake.reads_per_second = 5;
  polling::PollPlan plan;
  plan.wish.title = "Plan (* of * _all_ <it>";
  plan.wish.bench = bench;
  polling::Wanted wanted;
  wanted.name = "heater.state";
  wanted.every = 2s;
  plan.wish.reads = {wanted};
  wanted.name = "heater.setpoint";
  plan.wish.writes = {wanted};
  plan.requests = {request_to(0, "heater", 6, {0}), request_to(0, "heater", 3, {0})};
  plan.load = 0.04;
  plan.margin = 0.96;
  plan.fits = true;
  plan.full_cycle = 40ms;
  plan.longest_wait = 1ms;
  plan.ages = {{1, 1010ms, 1030ms}};
  plan.dead = {{false, 0, "heater", 1020ms, 1.02}};
  plan.watchdogs = {advice(0, "heater", 3s)};
  return plan;
}

bool says(const std::string& text, const std::string& words) {
  std::istringstream stream(text);
  std::string joined;
  for (std::string word; stream >> word;) joined += (joined.empty() ? "" : " ") + word;
  return joined.find(words) != std::string::npos;
}

std::string result_of(const polling::PollPlan& plan) {
  const auto json = boost::json::parse(io::plan_json(plan)).as_object();
  return std::string(json.at("watchdogs").at(0).at("result").as_string());
}

}  // namespace

TEST_CASE("the text of a plan has its requests, loads and ages, with addresses both ways") {
  const auto text = io::plan_text(made_up());
  CHECK(says(text, "IT FITS: 4 % of the line is used, the margin is 96 %."));
  CHECK(says(text, "1 heater 1 06 0x0040 (40065) 1 1 s 40 ms 20 ms 2 % writes heater.setpoint"));
  CHECK(says(text,
             "2 heater 1 03 0x0040 (40065) 4 1 s 40 ms 20 ms 2 % brings heater.state; 3 registers bridged"));
  CHECK(says(text, "Load = sum of line time / every = 2 % + 2 % = 4 %; margin = 100 % - 4 % = 96 %."));
  // 11 bits at 19200 bit/s: 0.573 ms; 3.5 of them: 2.005 ms (MODBUS over Serial Line V1.02, 2.5.1)
  CHECK(says(text, "11 bits: 0.5729 ms at 19200 bit/s; t3.5 is 2.0052 ms"));
  CHECK(says(text, "heater.state 2 s 2 1 s 1.01 s 1.03 s"));
  CHECK(says(text, "heater 1 1 5 4 - 0 ms"));
  CHECK(says(text, "all but heater 1.02 s 102 % too much: the others come late"));
  CHECK(says(text, "unit set to in any phase with these phases it is"));
  CHECK(says(
      text,
      "heater 3 s 1.7 s 1.621 s long enough longest gap with these phases 1.02 s, with other dead 1.62 s"));
  CHECK(says(text, "and every request that gets lost: its time-outs, and the wait for the next"));
  CHECK(says(text, "CAUTION: a comms watchdog is no safety function"));
  CHECK_FALSE(says(text, "WARNING"));
}

TEST_CASE("a timeout that is too short is warned of at the top and where it stands, and says when it trips") {
  auto plan = made_up();
  plan.watchdogs = {advice(0, "heater", 1500ms), advice(1, "other", 1s)};
  const auto text = io::plan_text(plan);
  CHECK(says(text, "WARNING: 2 comms watchdogs trip by this polling; see the last table."));
  CHECK(
      says(text,
           "WARNING: the comms watchdog of heater is set to 1.5 s and has to be 1.7 s or more: it trips when "
           "other is dead."));
  CHECK(says(
      text,
      "WARNING: the comms watchdog of other is set to 1 s and has to be 1.7 s or more: it trips although "
      "everybody answers."));
  CHECK(says(text, "heater 1.5 s 1.7 s 1.621 s TOO SHORT"));
  plan.watchdogs = {advice(0, "heater", 1700ms)};
  CHECK_FALSE(says(io::plan_text(plan), "WARNING"));
}

TEST_CASE("a timeout that is long enough with exactly the plan's phases passes for one that is long enough") {
  auto plan = made_up();
  plan.watchdogs = {advice(0, "heater", 1699ms)};
  const auto text = io::plan_text(plan);
  CHECK(says(text, "WARNING: 1 comms watchdog may trip, unless the phases are kept exactly"));
  CHECK(says(text, "heater 1.699 s 1.7 s 1.621 s long enough with these phases only"));
  CHECK(says(
      text,
      "which is long enough with these phases only, and hardly a PLC keeps them; 1.7 s is in any phase"));
  CHECK(result_of(plan) == "these-phases-only");
  plan.watchdogs = {advice(0, "heater", 1620ms)};
  CHECK(result_of(plan) == "too-short");
  plan.watchdogs = {advice(0, "heater", 1700ms)};
  CHECK(result_of(plan) == "kept-fed");
}

TEST_CASE("a timeout is said to trip, or to be long enough, by phases that were not looked at to the end") {
  for (const int what : {0, 1, 2}) {
    CAPTURE(what);
    auto plan = made_up();
    plan.watchdogs = {advice(0, "heater", 1650ms)};
    auto& one = plan.watchdogs[0];
    if (what == 0) {
      one.walked = false;
      one.longest_gap = one.longest_gap_dead = one.any_phase_gap;
      one.shortest_timeout = one.any_phase_timeout;
    } else if (what == 1) {
      one.comes_round = false;
      one.looked_at = 3123;
    } else {
      one.death_step = 3;
    }
    const auto text = io::plan_text(plan);
    CHECK(result_of(plan) == "may-be-too-short");
    CHECK(says(text, "is set to 1.65 s and may be too short: the bound is 1.7 s."));
    CHECK_FALSE(says(text, "it trips"));
    CHECK_FALSE(says(text, "only, and hardly"));
    CHECK(says(text, "these phases were not looked at here") == (what == 0));
    CHECK(says(text, "was not looked at further than 3123 requests for heater") == (what == 1));
    CHECK(says(text, "from the start and from every 3rd of its requests on") == (what == 2));
    CHECK(says(text, "1.621 s or more may be too short") == (what != 0));
  }
}

TEST_CASE(
    "a watchdog that nothing feeds is no watchdog that is fed, and one that is off is none that trips") {
  auto plan = made_up();
  plan.watchdogs = {advice(0, "heater", 3s), advice(1, "other", 0s)};
  plan.watchdogs[0].fed = false;
  plan.watchdogs[0].longest_gap = plan.watchdogs[0].longest_gap_dead = 0s;
  const auto text = io::plan_text(plan);
  CHECK(says(text, "WARNING: nothing in this plan feeds the comms watchdog of heater"));
  CHECK(says(text, "heater 3 s - - NOT FED"));
  CHECK(says(text, "other none 1.7 s 1.621 s off: not watched"));
  const auto json = boost::json::parse(io::plan_json(plan)).as_object();
  CHECK(std::string(json.at("watchdogs").at(0).at("result").as_string()) == "not-fed");
  CHECK(json.at("watchdogs").at(0).at("shortest_timeout").is_null());
  CHECK(std::string(json.at("watchdogs").at(1).at("result").as_string()) == "unsupervised");
}

TEST_CASE("a gap that is only the longest of many is told from one that is exact, once for all units") {
  auto plan = made_up();
  plan.watchdogs = {advice(0, "heater", 3s), advice(1, "other", 3s)};
  CHECK_FALSE(says(io::plan_text(plan), "not looked at"));
  plan.watchdogs[0].comes_round = plan.watchdogs[1].comes_round = false;
  plan.watchdogs[0].looked_at = 50'000;
  plan.watchdogs[1].looked_at = 4'000;
  CHECK(says(io::plan_text(plan), "not looked at further than 4000 requests for heater, other"));
}

TEST_CASE("why a plan does not fit stands in every form that has room for it") {
  auto plan = made_up();
  plan.fits = false;
  plan.load = 1.2;
  plan.margin = -0.2;
  plan.misfits = {"the requests take 120 % of the line's time, and there is no more than 100 %"};
  CHECK(says(io::plan_text(plan), "IT DOES NOT FIT. Load of the line: 120 %."));
  CHECK(says(io::plan_text(plan), "- the requests take 120 %"));
  CHECK(io::plan_text(plan).find("the requests take") == io::plan_text(plan).rfind("the requests take"));
  CHECK(says(io::plan_markdown(plan), "- the requests take 120 %"));
  CHECK(says(io::plan_st(plan), "IT DOES NOT FIT"));
  const auto json = boost::json::parse(io::plan_json(plan)).as_object();
  CHECK_FALSE(json.at("fits").as_bool());
  CHECK(std::string(json.at("misfits").at(0).as_string()) == plan.misfits[0]);
}

TEST_CASE("marks in the text of a user are not taken for those of the form") {
  const auto plan = made_up();
  const auto markdown = io::plan_markdown(plan);
  CHECK(markdown.starts_with("# Plan (\\* of \\* \\_all\\_ \\<it\\>\n"));
  CHECK(says(markdown, "A \"bench\", \\| with \\*) marks"));
  const auto st = io::plan_st(plan);
  CHECK(st.find("Plan (* of") == std::string::npos);
  CHECK(st.find("with *) marks") == std::string::npos);
  CHECK(says(st, "POLL_FIELD_2_COUNT : UINT := 2;"));
  auto quoted = plan;
  quoted.requests[1].slave_name = "a, \"b\"";
  CHECK(io::plan_csv(quoted).find(
            "\r\n2,\"a, \"\"b\"\"\",1,0x03,0x0040,40065,4,1,0.04,0.02,0.02,3,heater.state\r\n") !=
        std::string::npos);
}

TEST_CASE("a time that is a bound is rounded up, and lines stay within 100 columns") {
  auto plan = made_up();
  plan.ages[0].worst = 1010ms + 300us;
  plan.full_cycle = 40ms + 1us;
  const auto text = io::plan_text(plan);
  CHECK(says(text, "heater.state 2 s 2 1 s 1.011 s 1.03 s"));
  CHECK(says(text, "everybody 40.01 ms 4 %"));
  std::istringstream lines(text);
  for (std::string line; std::getline(lines, line);) CHECK_MESSAGE(line.size() <= 100, line);
}

TEST_CASE("a time in Structured Text is no TIME literal, or none that tools with whole milliseconds take") {
  // IEC 61131-3:2013, 6.3.4: whole numbers, the largest unit first; no exponents.
  struct Case {
    Duration every;
    const char* literal;
  };
  const Case cases[] = {{1ms, "T#1ms"},      {999ms, "T#999ms"},     {1500ms, "T#1s500ms"},
                        {100s, "T#1m40s"},   {3600s, "T#1h"},        {24h, "T#1d"},
                        {24000h, "T#1000d"}, {24h + 1ms, "T#1d1ms"}, {10ms + 900us, "T#10ms"},
                        {300us, "T#1ms"}};
  for (const auto& one : cases) {
    CAPTURE(one.literal);
    auto plan = made_up();
    plan.requests[0].every = plan.wish.master.timeout = one.every;
    const auto st = io::plan_st(plan);
    CHECK(says(st, "period := " + std::string(one.literal) + ", phase := T#40ms"));
    CHECK(says(st, "_TIME_OUT : TIME := " + std::string(one.literal) + ";"));
    CHECK(says(st, "the period is rounded") == (one.every % 1ms != 0ms));
  }
}

TEST_CASE("Structured Text leaves out how seldom a lost slave is asked, or has lines too long to print") {
  auto plan = made_up();
  CHECK(says(io::plan_st(plan), "POLL_FIELD_2_POLL_LOST_EVERY : TIME := T#0ms;"));
  plan.wish.master.poll_lost_every = 90s;
  plan.wish.title = std::string(200, 'x') + " " + std::string(100, 'y');
  plan.requests[0].every = plan.requests[1].every = 167h + 59min + 59s + 999ms;
  const auto st = io::plan_st(plan);
  CHECK(says(st, "POLL_FIELD_2_POLL_LOST_EVERY : TIME := T#1m30s;"));
  CHECK(says(st, "- heater (id 1): requests 1, 2"));
  std::istringstream lines(st);
  for (std::string line; std::getline(lines, line);) CHECK_MESSAGE(line.size() <= 120, line);
}

TEST_CASE("a character of another length than the standard's is told from one of 11 bits") {
  auto plan = made_up();
  auto bench = *plan.wish.bench;
  auto& serial = bench.lines[0].serial;
  serial = {115200, 8, 'N', 1};
  plan.wish.bench = std::make_shared<bench::BenchSpec>(bench);
  // MODBUS over Serial Line V1.02, 2.5.1: start, 8 data, parity, stop, or no parity and two stop bits.
  CHECK(says(io::plan_text(plan),
             "counted as 11 bits, as the standard has it; 8N1 has 10, so the true load is lower"));
  CHECK_FALSE(says(io::plan_text(plan), "A character is 11 bits"));
  serial = {115200, 8, 'E', 2};
  plan.wish.bench = std::make_shared<bench::BenchSpec>(bench);
  CHECK(says(io::plan_text(plan), "8E2 has 12, so the true load is higher"));
  serial = {115200, 8, 'N', 2};
  plan.wish.bench = std::make_shared<bench::BenchSpec>(bench);
  CHECK(says(io::plan_text(plan), "A character is 11 bits"));
}
