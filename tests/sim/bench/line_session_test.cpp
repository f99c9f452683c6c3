#include "sim/bench/line_session.hpp"

#include <algorithm>
#include <cstdint>
#include <vector>

#include <doctest/doctest.h>

#include "plant-models/materials/material.hpp"
#include "sim/modbus/crc.hpp"
#include "sim/registers/register_table.hpp"

using namespace emberline;
using bench::LineSession;
using modbus::Bytes;
using namespace std::chrono_literals;

namespace {

constexpr std::size_t kField = 0;
constexpr std::size_t kEthernet = 1;

bench::BenchSpec one_unit(SerialFormat serial) {
  registers::Row setpoint;
  setpoint.address = 0x0030;
  setpoint.point = registers::Point::setpoint;
  setpoint.layout.scale = 0.001;
  setpoint.access = registers::Access::read_write;
  registers::TableParts parts;
  parts.rows = {setpoint};
  auto table = registers::make_register_table(parts);
  REQUIRE(table);

  bench::BenchSpec spec;
  spec.lines.resize(2);
  spec.lines[kField].name = "field";
  spec.lines[kField].serial = serial;
  spec.lines[kEthernet].name = "ethernet";
  spec.lines[kEthernet].kind = bench::LineKind::tcp;
  bench::UnitEntry entry;
  entry.unit.name = "north";
  entry.unit.lines = {"field", "ethernet"};
  entry.unit.comms_loss.lines = entry.unit.lines;
  entry.unit.table = *table;
  entry.unit.rated_voltage_V = 400.0;
  entry.unit.rated_current_A = 63.0;
  entry.load.connection = plant::Connection::star_4_wire;
  entry.load.material = plant::find_material("constant");
  entry.load.cold_resistance_ohm = {10.0, 10.0, 10.0};
  spec.units = {entry};
  return spec;
}

const Bytes kRead{0x03, 0x00, 0x30, 0x00, 0x01};  // PDU
const Bytes kAnswer{0x03, 0x02, 0x00, 0x00};      // PDU
const Bytes kMbapRead{0, 1, 0, 0, 0, 6, 1, 3, 0, 0x30, 0, 1};

SimTime at(Duration since_start) { return SimTime{since_start}; }

}  // namespace

TEST_CASE("an RTU answer is through t3.5 and its characters after the request's last byte") {
  struct Row {
    int baud;
    Duration due;
    const char* source;
  };
  // The answer has 7 characters of 11 bits.
  const Row rows[] = {
      {1200, 96250000ns, "MODBUS over Serial Line V1.02, 2.5.1.1: 3.5 + 7 characters of 11 / 1200 s"},
      {9600, 12031250ns, "the same: 10.5 characters of 11 / 9600 s"},
      {19200, 6015625ns, "the same: 10.5 characters of 11 / 19200 s"},
      {38400, 3755208ns, "the same, t3.5 fixed at 1.750 ms above 19200 bit/s: 1.75 ms + 77 / 38400 s"},
  };
  for (const Row& row : rows) {
    CAPTURE(row.source);
    bench::Bench bench(one_unit({.baud = row.baud, .data_bits = 8, .parity = 'E', .stop_bits = 1}));
    LineSession session(bench, kField, "plc", {});
    session.receive(modbus::rtu_frame(1, kRead), at(1s));
    const auto answers = session.poll(at(1s));
    REQUIRE(answers.size() == 1);
    CHECK(answers[0].bytes == modbus::rtu_frame(1, kAnswer));
    // Two roundings to whole nanoseconds.
    const Duration off = answers[0].due - at(1s + row.due);
    CHECK(std::chrono::abs(off) <= 2ns);
  }
}

TEST_CASE("over a pseudo-terminal, whose bytes take no time, a line carries more than its speed lets it") {
  const auto answered_after = [](bool paced) {
    auto spec = one_unit({.baud = 9600, .data_bits = 8, .parity = 'E', .stop_bits = 1});
    spec.lines[kField].paced = paced;
    bench::Bench bench(spec);
    LineSession session(bench, kField, "plc", {.comes_at_once = true});
    session.receive(modbus::rtu_frame(1, kRead), at(1s));
    const auto answers = session.poll(at(1s));
    REQUIRE(answers.size() == 1);
    return answers[0].due - at(1s);
  };
  // A request of 8, a silence of 3.5 and an answer of 7 characters, 11 bits each at 9600 bit/s (MODBUS over
  // Serial Line V1.02, 2.5.1): 21.198 ms, which is what a master meets over a real wire.
  CHECK(std::chrono::abs(answered_after(true) - 21197917ns) <= 3ns);
  CHECK(answered_after(false) == 0ns);
}

TEST_CASE("requests that come at once over a pseudo-terminal share the time that each of them takes") {
  bench::Bench bench(one_unit({.baud = 9600, .data_bits = 8, .parity = 'E', .stop_bits = 1}));
  LineSession session(bench, kField, "plc", {.comes_at_once = true});
  session.receive(modbus::rtu_frame(1, kRead), at(1s));
  auto answers = session.poll(at(1s));
  session.receive(modbus::rtu_frame(1, kRead), at(1s));
  session.poll(at(1s), answers);
  REQUIRE(answers.size() == 2);
  CHECK(std::chrono::abs(answers[1].due - answers[0].due - 21197917ns) <= 3ns);  // as above
}

TEST_CASE("two requests at once are answered one after the other, as on two wires") {
  bench::Bench bench(one_unit({}));
  LineSession session(bench, kField, "plc", {});
  Bytes both = modbus::rtu_frame(1, kRead);
  both.insert(both.end(), both.begin(), both.begin() + 8);
  session.receive(both, at(1s));
  const auto answers = session.poll(at(1s));
  REQUIRE(answers.size() == 2);
  CHECK(answers[1].due >= answers[0].due + characters_time({}, 7));
}

TEST_CASE("a strict session takes a frame only when silence has ended it") {
  bench::Bench bench(one_unit({}));
  LineSession session(bench, kField, "plc", {.strict = true});
  session.receive(modbus::rtu_frame(1, kRead), at(1s));
  CHECK(session.poll(at(1s)).empty());
  REQUIRE(session.wake_at());
  CHECK(*session.wake_at() == at(1s) + t3_5({}));
  const auto answers = session.poll(*session.wake_at());
  REQUIRE(answers.size() == 1);
  CHECK(answers[0].due == at(1s) + t3_5({}) + characters_time({}, 7));
  CHECK_FALSE(session.wake_at());
}

TEST_CASE("a strict line does not take the time of a frame's own bytes for silence") {
  // MODBUS over Serial Line V1.02, 2.5.1.1: t1.5 and t3.5 are silences between characters, of 11 bits each.
  const SerialFormat serial{.baud = 9600, .data_bits = 8, .parity = 'E', .stop_bits = 1};
  const auto sent = [&](std::size_t characters) { return at(1s) + characters_time(serial, characters); };
  const Bytes frame = modbus::rtu_frame(1, kRead);
  const modbus::ByteView bytes(frame);

  for (const std::size_t first : {1u, 2u, 4u, 7u}) {  // two reads, without a gap on the wire
    CAPTURE(first);
    bench::Bench bench(one_unit(serial));
    LineSession session(bench, kField, "plc", {.strict = true});
    session.receive(bytes.first(first), sent(first));
    session.receive(bytes.subspan(first), sent(8));
    const auto answers = session.poll(sent(8) + t3_5(serial));
    REQUIRE(answers.size() == 1);
    CHECK(answers[0].bytes == modbus::rtu_frame(1, kAnswer));
    CHECK(session.faults() == 0);
  }
  {  // the same with a real gap of two characters behind the second byte
    bench::Bench bench(one_unit(serial));
    LineSession session(bench, kField, "plc", {.strict = true});
    session.receive(bytes.first(2), sent(2));
    session.receive(bytes.subspan(2), sent(10));
    CHECK(session.poll(sent(10) + t3_5(serial)).empty());
    CHECK(session.faults() == 1);
  }
  {  // and two whole frames with just the silence between them that ends the first
    bench::Bench bench(one_unit(serial));
    LineSession session(bench, kField, "plc", {.strict = true});
    session.receive(bytes, sent(8));
    session.receive(bytes, sent(8 + 4 + 8));
    CHECK(session.poll(sent(20) + t3_5(serial)).size() == 2);
    CHECK(session.faults() == 0);
  }
}

TEST_CASE("an incomplete frame on a real system ends after 50 ms or what the line is set to") {
  for (const auto setting : {std::optional<Duration>{}, std::optional<Duration>{8ms}}) {
    bench::BenchSpec spec = one_unit({});
    spec.lines[kField].frame_silence = setting;
    bench::Bench bench(std::move(spec));
    LineSession session(bench, kField, "plc", {});
    session.receive(Bytes{1, 3, 0}, at(1s));
    REQUIRE(session.wake_at());
    CHECK(*session.wake_at() == at(1s) + setting.value_or(50ms));
    CHECK(session.poll(*session.wake_at()).empty());
    CHECK(session.faults() == 1);
    CHECK(session.requests() == 0);
  }
}

TEST_CASE("a bad frame is counted and gets silence") {
  bench::Bench bench(one_unit({}));
  LineSession session(bench, kField, "plc", {.strict = true});
  Bytes bad = modbus::rtu_frame(1, kRead);
  bad[3] ^= 0x10;
  session.receive(bad, at(1s));
  CHECK(session.poll(at(2s)).empty());
  CHECK(session.faults() == 1);
  session.receive(modbus::rtu_frame(1, kRead), at(3s));
  CHECK(session.poll(at(4s)).size() == 1);
}

TEST_CASE("a broadcast is taken up and gets silence") {
  bench::Bench bench(one_unit({}));
  LineSession session(bench, kField, "plc", {});
  session.receive(modbus::rtu_frame(0, Bytes{0x06, 0x00, 0x30, 0x01, 0x2C}), at(1s));
  CHECK(session.poll(at(1s)).empty());
  CHECK(session.requests() == 1);
  CHECK(bench.unit(0).value(registers::Point::setpoint, at(1s)) == doctest::Approx(0.3));
}

TEST_CASE("bytes on a cut line go nowhere, and the answer to what came before is lost") {
  bench::Bench bench(one_unit({}));
  LineSession session(bench, kField, "plc", {.strict = true});
  session.receive(modbus::rtu_frame(1, kRead), at(1s));
  bench.set_line_cut(kField, true, at(1s));
  CHECK(session.poll(at(2s)).empty());
  CHECK(session.requests() == 1);
  session.receive(modbus::rtu_frame(1, kRead), at(3s));
  CHECK(session.swallowed() == 8);
  CHECK(session.poll(at(4s)).empty());
  CHECK(session.requests() == 1);
  bench.set_line_cut(kField, false, at(5s));
  session.receive(modbus::rtu_frame(1, kRead), at(5s));
  CHECK(session.poll(at(6s)).size() == 1);
}

TEST_CASE("half a frame that was reset does not spoil the next") {
  bench::Bench bench(one_unit({}));
  LineSession session(bench, kField, "plc", {.strict = true});
  session.receive(Bytes{1, 3, 0}, at(1s));
  session.reset();
  CHECK_FALSE(session.wake_at());
  session.receive(modbus::rtu_frame(1, kRead), at(1s));
  CHECK(session.poll(at(2s)).size() == 1);
}

TEST_CASE("a TCP answer is due at once and carries the request's transaction") {
  bench::Bench bench(one_unit({}));
  LineSession session(bench, kEthernet, "plc", {});
  session.receive(kMbapRead, at(1s));
  const auto answers = session.poll(at(1s));
  REQUIRE(answers.size() == 1);
  CHECK(answers[0].due == at(1s));
  CHECK(answers[0].bytes == Bytes{0, 1, 0, 0, 0, 5, 1, 3, 2, 0, 0});
  CHECK_FALSE(session.wake_at());
}

TEST_CASE("a TCP stream with a length that cannot be is lost") {
  bench::Bench bench(one_unit({}));
  LineSession session(bench, kEthernet, "plc", {});
  CHECK_FALSE(session.lost());
  session.receive(Bytes{0, 1, 0, 0, 0, 0, 1, 3}, at(1s));
  CHECK(session.poll(at(1s)).empty());
  CHECK(session.lost());
  CHECK(session.faults() == 1);
}

TEST_CASE("behind a TCP length that contradicts its function code nothing is carried out") {
  // MODBUS Application Protocol V1.1b3, 6.3: the PDU of a read has 5 bytes, so the length is 6, not 7.
  bench::Bench bench(one_unit({}));
  LineSession session(bench, kEthernet, "plc", {});
  Bytes stream = kMbapRead;
  stream[5] = 7;
  stream.push_back(0);
  const Bytes write{0, 2, 0, 0, 0, 6, 1, 6, 0, 0x30, 1, 0xF4};
  stream.insert(stream.end(), write.begin(), write.end());
  session.receive(stream, at(1s));
  CHECK(session.poll(at(1s)).empty());
  CHECK(session.lost());
  CHECK(bench.unit(0).value(registers::Point::setpoint, at(1s)) == 0.0);
}

namespace {

/// The frames that whoever watches a line is shown.
struct Watch final : bench::LineObserver {
  void frame(const bench::FrameSeen& frame) override {
    numbers.push_back(frame.number);
    frames.emplace_back(frame.bytes.begin(), frame.bytes.end());
  }
  std::vector<std::uint64_t> numbers;
  std::vector<Bytes> frames;
};

}  // namespace

TEST_CASE("a TCP request is shown in pieces, with a wrong number, or not at all to those who watch") {
  const Bytes foreign{0, 9, 0, 7, 0, 3, 1, 2, 3};
  const Bytes bad{0, 2, 0, 0, 0, 0, 1, 3};
  const std::vector<Bytes> parts{kMbapRead, kMbapRead, foreign, kMbapRead, bad};
  Bytes stream;
  for (const auto& part : parts) stream.insert(stream.end(), part.begin(), part.end());
  for (std::size_t piece = 1; piece <= stream.size(); ++piece) {
    CAPTURE(piece);
    bench::Bench bench(one_unit({}));
    Watch watch;
    bench.lines().add_observer(watch);
    LineSession session(bench, kEthernet, "plc", {});
    for (std::size_t begin = 0; begin < stream.size(); begin += piece) {
      session.receive(modbus::ByteView(stream).subspan(begin, std::min(piece, stream.size() - begin)),
                      at(1s));
      if (begin % 2 == 0) (void)session.poll(at(1s));
    }
    (void)session.poll(at(1s));
    CHECK(watch.numbers == std::vector<std::uint64_t>{1, 2, 0, 3, 0});
    REQUIRE(watch.frames.size() == parts.size());
    // Of the last only its header had come, where pieces are as small.
    REQUIRE(watch.frames.back().size() >= 6);
    REQUIRE(watch.frames.back().size() <= bad.size());
    CHECK(Bytes(bad.begin(), bad.begin() + static_cast<std::ptrdiff_t>(watch.frames.back().size())) ==
          watch.frames.back());
    watch.frames.back() = bad;
    CHECK(watch.frames == parts);
    bench.lines().remove_observer(watch);
  }
}

TEST_CASE("an RTU request is shown with a wrong number, or a damaged frame as one") {
  bench::Bench bench(one_unit({}));
  Watch watch;
  bench.lines().add_observer(watch);
  LineSession session(bench, kField, "plc", {});
  auto damaged = modbus::rtu_frame(1, kRead);
  damaged.back() ^= 1U;
  const auto good = modbus::rtu_frame(1, kRead);
  int n = 0;
  for (const auto& frame : {good, damaged, good}) {
    session.receive(frame, at(++n * 1s));
    (void)session.poll(at(n * 1s + 500ms));
  }
  CHECK(watch.numbers == std::vector<std::uint64_t>{1, 0, 2});
  CHECK(watch.frames == std::vector<Bytes>{good, damaged, good});
  bench.lines().remove_observer(watch);
}
