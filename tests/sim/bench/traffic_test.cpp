#include "sim/bench/traffic.hpp"

#include <algorithm>
#include <string>

#include <doctest/doctest.h>

#include "sim/bench/line_session.hpp"
#include "sim/bench/traffic_text.hpp"
#include "sim/modbus/crc.hpp"
#include "sim/modbus/mbap_framer.hpp"
#include "tests/support/heated_bench.hpp"

using namespace emberline;
using bench::LineSession;
using modbus::Bytes;
using namespace std::chrono_literals;

namespace {

SimTime at(Duration since_start) { return SimTime{since_start}; }

/// One request at a time over an RTU line; its answer goes out unless it is lost.
struct Plc {
  explicit Plc(bench::Bench& the_bench) : session(the_bench, 0, "plc", {}) {}
  void ask(const Bytes& pdu, SimTime when, bool answer_lost = false, std::uint8_t id = 1) {
    session.receive(modbus::rtu_frame(id, pdu), when);
    for (const auto& piece : session.poll(when))
      if (!answer_lost) session.sent(piece, piece.due);
  }
  LineSession session;
};

bench::BenchSpec bench_with(bool kept) {
  using registers::Point;
  registers::TableParts parts;
  const auto add = [&parts](std::uint16_t address, Point point) -> registers::Row& {
    registers::Row row;
    row.address = address;
    row.point = point;
    row.layout.scale = point == Point::setpoint ? 0.001 : 1.0;
    parts.rows.push_back(row);
    return parts.rows.back();
  };
  auto& setpoint = add(0x30, Point::setpoint);
  setpoint.access = registers::Access::read_write;
  setpoint.kept = kept;
  for (std::uint16_t i = 0; i < 6; ++i) add(static_cast<std::uint16_t>(0x40 + i), Point::state);
  add(0x50, Point::warnings);
  auto spec = testing::heated_bench();
  spec.units[0].unit.table = registers::make_register_table(parts).value();
  return spec;
}

Bytes read(int first, int count) {
  return {3, 0, static_cast<std::uint8_t>(first), 0, static_cast<std::uint8_t>(count)};
}

const bench::TrafficPair& only_pair(const bench::TrafficReview& review) {
  REQUIRE(review.pairs.size() == 1);
  return review.pairs.front();
}

}  // namespace

TEST_CASE("rate, blocks, exceptions, silence or retries are miscounted") {
  bench::Bench bench(bench_with(false));
  Plc plc(bench);
  for (int i = 0; i <= 20; ++i) plc.ask(read(0x40, 2), at(i * 500ms));
  plc.ask(read(0x60, 1), at(11s));        // unmapped: 02
  plc.ask(read(0x50, 1), at(12s), true);  // the answer is lost, ...
  plc.ask(read(0x50, 1), at(12500ms));    // ... so it is asked again
  plc.ask(read(0x50, 1), at(13s));        // the same again after an answer is no retry
  plc.ask({6, 0, 0x30, 1, 0xF4}, at(20s));
  const auto review = bench.traffic();
  const auto& pair = only_pair(review);
  CHECK(pair.slave == "heater");
  CHECK(pair.requests == 26);
  CHECK(pair.per_second == doctest::Approx(25.0 / 20.0));
  CHECK(pair.writes == 1);
  CHECK(pair.exceptions == std::map<int, std::uint64_t>{{2, 1}});
  CHECK(pair.retries == 1);
  CHECK(pair.silent == 0);
  CHECK(pair.late == 0);
  REQUIRE(pair.blocks.size() == 4);
  CHECK(pair.blocks[0].first == 0x40);
  CHECK(pair.blocks[0].count == 2);
  CHECK(pair.blocks[0].times == 21);
  REQUIRE(review.lines.size() == 1);
  CHECK(review.lines[0].requests == 26);
  CHECK(review.lines[0].answers == 25);
}

TEST_CASE("a late answer is counted for the wrong slave, or not at all") {
  bench::Bench bench(bench_with(false));
  LineSession session(bench, 0, "plc", {});
  session.receive(modbus::rtu_frame(1, read(0x40, 1)), at(1s));
  const auto first = session.poll(at(1s));
  session.receive(modbus::rtu_frame(1, read(0x50, 1)), at(2s));
  const auto second = session.poll(at(2s));
  session.sent(first.at(0), at(2s));
  session.sent(second.at(0), second[0].due);
  CHECK(session.counters().late == 1);
  CHECK(only_pair(bench.traffic()).late == 1);
}

TEST_CASE("a master that connects anew counts as another one each time") {
  bench::Bench bench(bench_with(false));
  for (int port = 40000; port < 40100; ++port) {
    LineSession session(bench, 1, "192.0.2.7:" + std::to_string(port), {});
    session.receive(modbus::mbap_frame(1, 1, read(0x40, 1)), at(1s));
    CHECK(session.poll(at(1s)).size() == 1);
    session.end(at(2s));
  }
  const auto review = bench.traffic();
  CHECK(only_pair(review).master == "192.0.2.7");
  CHECK(only_pair(review).requests == 100);
}

TEST_CASE("the only slave of a Modbus TCP line is nobody when it is asked as 255") {
  bench::BenchSpec spec = bench_with(true);
  spec.io_blocks.clear();
  bench::Bench bench(spec);
  LineSession session(bench, 1, "plc", {});
  const Bytes write{6, 0, 0x30, 0, 100};
  for (int i = 0; i < 20; ++i) {
    session.receive(modbus::mbap_frame(1, 255, write), at(i * 1s));
    (void)session.poll(at(i * 1s));
  }
  const auto review = bench.traffic();
  CHECK(only_pair(review).slave == "heater");
  CHECK(only_pair(review).kept_writes.size() == 1);
}

TEST_CASE("writes by 16 and 17 are no writes, or the read of a 17 is one") {
  bench::Bench bench(bench_with(true));
  Plc plc(bench);
  for (int i = 0; i < 10; ++i) {
    plc.ask({0x16, 0, 0x30, 0, 0, 0, 50}, at(i * 4s));
    plc.ask({0x17, 0, 0x40, 0, 1, 0, 0x30, 0, 1, 2, 0, 60}, at(i * 4s + 2s));  // reads 0x40, writes 0x30
    plc.ask({0x17, 0, 0x30, 0, 1, 0, 0x60, 0, 1, 2, 0, 60}, at(i * 4s + 3s));  // reads 0x30; 02
  }
  const auto review = bench.traffic();
  CHECK(only_pair(review).writes == 30);
  REQUIRE(only_pair(review).kept_writes.size() == 1);
  CHECK(only_pair(review).kept_writes[0].times == 20);
}

TEST_CASE("what is no Modbus TCP is not counted as broken") {
  bench::Bench bench(bench_with(false));
  LineSession session(bench, 1, "plc", {});
  session.receive(Bytes{0, 1, 0, 9, 0, 6, 1, 3, 0, 0x40, 0, 1}, at(1s));  // protocol 9
  CHECK(session.poll(at(1s)).empty());
  REQUIRE(bench.traffic().lines.size() == 1);
  CHECK(bench.traffic().lines[0].broken == 1);
}

TEST_CASE("a real slave beside ours counts as nobody, and its master as asking in vain") {
  bench::BenchSpec spec = bench_with(false);
  spec.lines[0].kind = bench::LineKind::serial_port;
  bench::Bench bench(spec);
  Plc plc(bench);
  for (int i = 0; i < 10; ++i) plc.ask(read(0x40, 1), at(i * 1s), false, 9);
  const auto review = bench.traffic();
  CHECK(only_pair(review).slave == "another slave on the wire, or nobody");
  CHECK(only_pair(review).silent == 0);
  CHECK(only_pair(review).retries == 0);
  for (const auto& entry : bench.journal().entries()) CHECK(entry.sentence.find("hint") == std::string::npos);
}

TEST_CASE("line time is not what speed and format say") {
  // 11 bits a character, 3.5 characters between frames (MODBUS over Serial Line V1.02, 2.5.1): a read of one
  // register takes 8 + 3.5 + 7 + 3.5 characters.
  bench::Bench bench(bench_with(false));
  Plc plc(bench);
  for (int i = 0; i <= 100; ++i) plc.ask(read(0x50, 1), at(i * 100ms));
  const auto review = bench.traffic();
  REQUIRE(review.lines.size() == 1);
  const double transaction_s = 22.0 * 11.0 / 19200.0;
  CHECK(to_seconds(review.lines[0].time_used) == doctest::Approx(101 * transaction_s).epsilon(1e-6));
  REQUIRE(review.lines[0].time_share);
  CHECK(*review.lines[0].time_share == doctest::Approx(101 * transaction_s / 10.0).epsilon(1e-6));
}

TEST_CASE("reads that one request could do are not found, or found across a gap or a limit") {
  struct Case {
    std::string what;
    std::optional<int> largest_block;
    std::vector<std::pair<int, int>> reads;
    std::vector<std::pair<int, int>> merged;
  };
  const Case cases[] = {
      {"neighbours", {}, {{0x40, 1}, {0x41, 2}, {0x43, 1}}, {{0x40, 4}}},
      {"mapped addresses between them", {}, {{0x40, 1}, {0x45, 1}}, {{0x40, 6}}},
      {"a gap between them", {}, {{0x40, 1}, {0x50, 1}}, {}},
      {"longer than the unit takes", 3, {{0x40, 2}, {0x42, 2}, {0x44, 1}}, {{0x42, 3}}},
      {"nothing to merge", {}, {{0x40, 6}}, {}},
  };
  for (const auto& row : cases) {
    CAPTURE(row.what);
    auto spec = bench_with(false);
    spec.units[0].unit.intake.largest_block = row.largest_block;
    bench::Bench bench(std::move(spec));
    Plc plc(bench);
    for (int i = 0; i < 10; ++i)
      for (std::size_t r = 0; r < row.reads.size(); ++r)
        plc.ask(read(row.reads[r].first, row.reads[r].second), at(i * 1s + static_cast<int>(r) * 100ms));
    std::vector<std::pair<int, int>> merged;
    const auto review = bench.traffic();
    for (const auto& merge : only_pair(review).merges) merged.emplace_back(merge.first, merge.count);
    CHECK(merged == row.merged);
  }
}

TEST_CASE("cyclic writes to a non-volatile point pass without a word") {
  for (const bool kept : {true, false}) {
    bench::Bench bench(bench_with(kept));
    Plc plc(bench);
    for (int i = 0; i <= 30; ++i) plc.ask({6, 0, 0x30, 0, 100}, at(i * 2s));
    const auto review = bench.traffic();
    const auto& pair = only_pair(review);
    REQUIRE(pair.kept_writes.size() == (kept ? 1 : 0));
    if (!kept) continue;
    CHECK(pair.kept_writes[0].point == "setpoint");
    CHECK(pair.kept_writes[0].times == 31);
    CHECK(pair.kept_writes[0].period == 2s);
  }
}

TEST_CASE("after a few requests a line is said to be full, or to be as empty as it is not") {
  bench::Bench bench(bench_with(true));
  Plc plc(bench);
  for (int i = 0; i < 3; ++i) plc.ask(read(0x40, 1), at(i * 20ms));
  CHECK(traffic_lines(bench.traffic()).front() ==
        "field: 3 requests, 3 answers; too short a time to tell how much of it is used");
  plc.ask(read(0x40, 1), at(6s));
  CHECK(traffic_lines(bench.traffic()).front().find(" of its time used") != std::string::npos);
}

TEST_CASE("the review does not read as a practitioner would say it") {
  bench::Bench bench(bench_with(true));
  Plc plc(bench);
  for (int i = 0; i <= 30; ++i) {
    plc.ask(read(0x40, 1), at(i * 1s));
    plc.ask(read(0x41, 2), at(i * 1s + 100ms));
    plc.ask({6, 0, 0x30, 0, 100}, at(i * 1s + 200ms));
    plc.ask(read(0x40, 1), at(i * 1s + 300ms), false, 9);
  }
  const auto lines = traffic_lines(bench.traffic());
  // A second: 80.5 characters of 0.573 ms, frames and the silences between them.
  const std::vector<std::string> expected{
      "field: 124 requests, 93 answers; 4.7 % of its time used",
      "plc asks heater over field: 93 requests, 3.05 a second, 31 of them writes",
      "  function 03, 1 register from 0x0040 (40065): 31 times",
      "  function 03, 2 registers from 0x0041 (40066): 31 times",
      "  function 06, 1 register from 0x0030 (40049): 31 times",
      "  could be one read of 3 registers from 0x0040 (40065) instead of 2: 0x0040 x 1, 0x0041 x 2",
      "  setpoint is non-volatile and was written 31 times, every 1 s: such memory wears out, write it only "
      "when it changes",
      "plc asks unit id 9 (nobody) over field: 31 requests, 1 a second; 31 met silence",
      "  function 03, 1 register from 0x0040 (40065): 31 times"};
  REQUIRE(lines.size() == expected.size());
  for (std::size_t i = 0; i < lines.size(); ++i) CHECK(lines[i] == expected[i]);
}
