// What each impairment does to a request and to its answer, on both kinds of line, and that it can be lifted.
#include <algorithm>
#include <string>
#include <vector>

#include <doctest/doctest.h>

#include "tests/sim/faults/exchange.hpp"

using namespace emberline;
using namespace emberline::testing;

namespace {

/// Sums of times that are rounded to whole nanoseconds each.
constexpr Duration kRounding = 20ns;

Bytes first_of(Bytes frame, std::size_t count) {
  frame.resize(count);
  return frame;
}

Bytes inverted(Bytes frame) {
  for (auto& byte : frame) byte = static_cast<std::uint8_t>(~byte);
  return frame;
}

void check_heard(const std::vector<Heard>& heard, const std::vector<Heard>& expected) {
  REQUIRE(heard.size() == expected.size());
  for (std::size_t i = 0; i < heard.size(); ++i) {
    CAPTURE(i);
    CHECK(heard[i].bytes == expected[i].bytes);
    CHECK(std::chrono::abs(heard[i].after - expected[i].after) <= kRounding);
  }
}

struct Row {
  const char* action;
  std::size_t line;
  bool unit_acts;
  std::vector<Heard> master_hears;
};

/// What is heard after the write of a setpoint, which is answered with the same bytes: MODBUS Application
/// Protocol V1.1b3, 6.6. On the RTU line a character takes 11 bits at 19200 bit/s and frames are t3.5 apart:
/// MODBUS over Serial Line V1.02, 2.5.1.
std::vector<Row> rows() {
  const Bytes rtu = Exchange::frame(kField, kWrite);
  const Bytes tcp = Exchange::frame(kEthernet, kWrite);
  const Duration through = rtu_after(8);
  const Bytes from_9_rtu = modbus::rtu_frame(9, kWrite);
  const Bytes from_9_tcp = modbus::mbap_frame(7, 9, kWrite);
  return {
      {"cut field", kField, false, {}},
      {"cut field way to-units", kField, false, {}},
      {"cut field way to-masters", kField, true, {}},
      {"drop_requests field", kField, false, {}},
      {"drop_requests field share 0 %", kField, true, {{through, rtu}}},
      {"drop_answers field", kField, true, {}},
      {"drop-answers field", kField, true, {}},
      {"delay field by 50 ms", kField, true, {{through + 50ms, rtu}}},
      {"delay field by 50 ms way to-units", kField, true, {{through + 50ms, rtu}}},
      {"delay field by 50 ms way both", kField, true, {{through + 100ms, rtu}}},
      {"truncate field keep 3", kField, true, {{rtu_after(3), first_of(rtu, 3)}}},
      {"truncate field keep 8", kField, true, {{through, rtu}}},
      {"repeat_answer field", kField, true, {{through, rtu}, {2 * through, rtu}}},
      {"late_answer field", kField, true, {}},
      {"wrong_id field as 9", kField, true, {{through, from_9_rtu}}},
      {"bit_errors field rate 0", kField, true, {{through, rtu}}},
      {"bit_errors field rate 1", kField, false, {}},
      {"bit_errors field rate 1 way to-units", kField, false, {}},
      {"bit_errors field rate 1 way to-masters", kField, true, {{through, inverted(rtu)}}},
      {"noise field place before", kField, false, {}},
      {"noise field bytes 8 place over way to-units", kField, false, {}},
      {"noise field way to-masters share 0 %", kField, true, {{through, rtu}}},
      {"echo field", kField, true, {{0ns, rtu}, {through, rtu}}},
      {"stuck_busy heater", kField, false, {{rtu_after(5), modbus::rtu_frame(1, Bytes{0x86, 0x06})}}},
      {"cut ethernet", kEthernet, false, {}},
      {"cut ethernet way to-masters", kEthernet, true, {}},
      {"drop_requests ethernet", kEthernet, false, {}},
      {"drop_answers ethernet", kEthernet, true, {}},
      {"delay ethernet by 50 ms", kEthernet, true, {{50ms, tcp}}},
      {"delay ethernet by 50 ms way to-units", kEthernet, true, {{50ms, tcp}}},
      {"delay ethernet by 50 ms way both", kEthernet, true, {{100ms, tcp}}},
      {"truncate ethernet keep 3", kEthernet, true, {{0ns, first_of(tcp, 3)}}},
      {"repeat_answer ethernet", kEthernet, true, {{0ns, tcp}, {0ns, tcp}}},
      {"late_answer ethernet", kEthernet, true, {}},
      {"wrong_id ethernet as 9", kEthernet, true, {{0ns, from_9_tcp}}},
      {"stuck_busy heater", kEthernet, false, {{0ns, modbus::mbap_frame(7, 1, Bytes{0x86, 0x06})}}},
  };
}

std::string word_of(const std::string& action) { return action.substr(0, action.find(' ')); }

/// The text that lifts it, and nothing else.
std::string lifting(const Row& row) {
  auto word = word_of(row.action);
  if (word == "stuck_busy") return "free heater";
  std::replace(word.begin(), word.end(), '-', '_');
  return std::string("restore ") + (row.line == kField ? "field" : "ethernet") + " only " + word;
}

/// The write of another setpoint is taken and answered as on a good line, by the last piece that is heard.
void check_good(Exchange& exchange, std::size_t line) {
  const Bytes write{0x06, 0x00, 0x00, 0x00, 0x64};
  const auto written = exchange.written.size();
  check_heard(exchange.ask(line, write),
              {{line == kField ? rtu_after(8) : 0ns, Exchange::frame(line, write)}});
  CHECK(exchange.written.size() == written + 1);
}

}  // namespace

TEST_CASE("each impairment does to requests and answers what its word says") {
  for (const Row& row : rows()) {
    CAPTURE(row.action);
    CAPTURE(row.line);
    Exchange exchange;
    check_good(exchange, row.line);
    exchange.perform(row.action);
    const auto heard = exchange.ask(row.line, kWrite);
    CHECK(exchange.written.size() == (row.unit_acts ? 2u : 1u));
    check_heard(heard, row.master_hears);
  }
}

TEST_CASE("after an impairment is lifted the next good request is answered as ever") {
  for (const Row& row : rows()) {
    CAPTURE(row.action);
    CAPTURE(row.line);
    const std::string line = row.line == kField ? "field" : "ethernet";
    const bool of_unit = word_of(row.action) == "stuck_busy";
    {  // by its own word
      Exchange exchange;
      exchange.perform(row.action);
      (void)exchange.ask(row.line, kWrite);
      exchange.perform(lifting(row));
      check_good(exchange, row.line);
    }
    {  // when its time is over
      Exchange exchange;
      exchange.perform(std::string(row.action) + " for 1.5 s");
      (void)exchange.ask(row.line, kWrite);
      (void)exchange.ask(row.line, kWrite);
      exchange.go_to(exchange.now() + 2s);
      check_good(exchange, row.line);
    }
    if (of_unit) continue;
    {  // with everything else
      Exchange exchange;
      exchange.perform(row.action);
      exchange.perform("drop_answers " + line);
      exchange.perform("cut " + line);
      (void)exchange.ask(row.line, kWrite);
      exchange.perform("restore " + line);
      CHECK(exchange.bench().lines().state(row.line) == 0);
      check_good(exchange, row.line);
    }
  }
}

TEST_CASE("lifting one impairment leaves the others standing") {
  Exchange exchange;
  exchange.perform("drop_answers field");
  exchange.perform("drop_requests field");
  exchange.perform("cut field");
  const auto acts = [&] {
    const auto before = exchange.written.size();
    const bool heard = !exchange.ask(kField, kWrite).empty();
    return std::pair(exchange.written.size() > before, heard);
  };
  CHECK(acts() == std::pair(false, false));
  CHECK(exchange.bench().lines().state(kField) == 1);
  exchange.perform("restore field only cut");
  CHECK(exchange.bench().lines().state(kField) == 2);
  CHECK(acts() == std::pair(false, false));
  exchange.perform("restore field only echo");  // is not there
  CHECK(acts() == std::pair(false, false));
  exchange.perform("restore field only drop_requests");
  CHECK(acts() == std::pair(true, false));
  exchange.perform("restore field only drop_answers");
  CHECK(acts() == std::pair(true, true));
  CHECK(exchange.last_note("field") == "drop_answers is over");
}

TEST_CASE("everything that lasts can be lifted by its word") {
  const auto spec = heated_bench();
  for (const auto* kind : faults::all_actions()) {
    const bool of_line = kind->target == faults::TargetKind::line ||
                         kind->target == faults::TargetKind::rtu_line ||
                         kind->target == faults::TargetKind::tcp_line;
    if (!of_line || kind->undo == nullptr) continue;
    CAPTURE(std::string(kind->word));
    CHECK(faults::parse_action(spec, "restore field only " + std::string(kind->word)));
  }
}

TEST_CASE("a late answer comes after the next request, ahead of that one's own") {
  for (const std::size_t line : {kField, kEthernet}) {
    CAPTURE(line);
    const bool rtu = line == kField;
    Exchange exchange;
    exchange.perform(rtu ? "late_answer field" : "late_answer ethernet");
    const Bytes write = Exchange::frame(line, kWrite);
    CHECK(exchange.ask(line, kReadTwo).empty());
    // The answer with two registers has 9 characters.
    check_heard(exchange.ask(line, kWrite),
                {{rtu ? rtu_after(9) : 0ns, Exchange::frame(line, kTwoAnswered)}});
    // Nobody answers this one, and still it is the next request.
    check_heard(exchange.ask(line, kWrite, 99), {{rtu ? rtu_after(8) : 0ns, write}});
    CHECK(exchange.ask(line, kWrite).empty());
  }
  // Only some are late: the late one goes first, and the line carries one frame at a time.
  Exchange exchange;
  exchange.perform("late_answer field");
  CHECK(exchange.ask(kField, kReadTwo).empty());
  exchange.perform("late_answer field share 0 %");  // in place of the first: what it kept is lost with it
  check_heard(exchange.ask(kField, kWrite), {{rtu_after(8), Exchange::frame(kField, kWrite)}});
}

TEST_CASE("a master hears its own request where nobody answers, too, and that is no answer") {
  Exchange exchange;
  exchange.perform("echo field");
  exchange.perform("truncate field keep 2");  // answers only
  const Bytes nobody = modbus::rtu_frame(99, kReadTwo);
  check_heard(exchange.ask(kField, kReadTwo, 99), {{0ns, nobody}});
  check_heard(exchange.ask(kField, kReadTwo),
              {{0ns, modbus::rtu_frame(1, kReadTwo)},
               {rtu_after(2), first_of(modbus::rtu_frame(1, kTwoAnswered), 2)}});
}

TEST_CASE("a wrong id makes no good frame out of a damaged one") {
  Exchange exchange;
  exchange.perform("truncate field keep 6");
  exchange.perform("wrong_id field as 9");
  const auto heard = exchange.ask(kField, kWrite);
  REQUIRE(heard.size() == 1);
  CHECK(heard[0].bytes == first_of(modbus::rtu_frame(1, kWrite), 6));
}

TEST_CASE("what was put off does not hold up a line that is good again") {
  for (const char* way : {"to-units", "to-masters"}) {
    CAPTURE(std::string(way));
    Exchange exchange;
    exchange.perform(std::string("delay field by 5 s way ") + way);
    bool given = !exchange.ask(kField, kWrite).empty();
    exchange.perform("restore field");
    check_good(exchange, kField);
    // The straggler still comes when its time is there.
    bench::Bench& bench = exchange.bench();
    CHECK(bench.lines().state(kField) == 0);
    exchange.go_to(exchange.now() + 5s);
    const auto written = exchange.written.size();
    const auto heard = exchange.ask(kField, kWrite);
    given = given || heard.size() == 2;
    CHECK(given);
    CHECK(exchange.written.size() == written + (std::string(way) == "to-units" ? 2 : 1));
  }
}

TEST_CASE("a request that is held up when the cable comes off reaches no unit") {
  Exchange exchange;
  exchange.perform("delay field by 2 s way to-units");
  CHECK(exchange.ask(kField, kWrite).empty());
  exchange.perform("cut field for 2 s");
  exchange.go_to(exchange.now() + 500ms);
  CHECK(exchange.ask(kField, kWrite).empty());
  CHECK(exchange.written.empty());
}

TEST_CASE("words for connections do to a TCP line what they say") {
  Exchange exchange;
  const auto conduct = [&] { return exchange.bench().lines().conduct(kEthernet); };
  CHECK(conduct() == bench::TcpConduct{});
  exchange.perform("tcp_refused ethernet for 1 s");
  CHECK(conduct().refuses);
  exchange.perform("tcp_silent ethernet");
  CHECK(conduct().silent);
  exchange.perform("half_open ethernet");
  CHECK(conduct().half_open_since == exchange.now());
  exchange.go_to(exchange.now() + 1s);
  CHECK_FALSE(conduct().refuses);
  CHECK(conduct().silent);
  exchange.perform("tcp_reset ethernet");
  CHECK(conduct().resets == 1);
  CHECK(conduct().reset_at == exchange.now());
  exchange.perform("restore ethernet only half_open");
  CHECK_FALSE(conduct().half_open_since);
  exchange.perform("restore ethernet");
  CHECK_FALSE(conduct().silent);
  CHECK(conduct().resets == 1);  // what happened has happened
}

TEST_CASE("the journal says of an impairment what the master will see") {
  struct Case {
    const char* action;
    const char* subject;
    const char* sentence;
  };
  const Case cases[] = {
      {"drop_requests field share 30 %", "field",
       "30 % of the requests are lost: units hear nothing of them, masters get no answer"},
      {"drop_answers field", "field",
       "all answers are lost: units do as they are told, masters take it for a failure"},
      {"delay field by 200 ms jitter 50 ms", "field",
       "frames are held up by 0.2 s and up to 0.05 s more, on the way to the masters: a master whose "
       "time-out "
       "is shorter gives up, and may take the answer for that to its next request"},
      {"delay ethernet by 1 s way both", "ethernet",
       "frames are held up by 1 s, both ways: a master whose time-out is shorter gives up"},
      {"collision field id 1", "field",
       "a second device has unit id 1: both do as they are told and answer over each other, masters read "
       "rubbish"},
      {"collision field id 9", "field",
       "nobody has unit id 9 here: there is nothing for a second device to collide with"},
      {"truncate field keep 1", "field",
       "all answers end after 1 byte: masters wait for the rest until their time-out"},
      {"tcp_refused ethernet", "ethernet", "new connections are refused; those that are there go on"},
      {"tcp_reset ethernet", "ethernet", "all connections reset"},
      {"stuck_busy heater", "heater",
       "stuck: answers every request with exception 06 (busy) and takes none up"},
  };
  for (const auto& row : cases) {
    CAPTURE(row.action);
    Exchange exchange;
    exchange.perform(row.action);
    CHECK(exchange.last_note(row.subject) == row.sentence);
  }
}
