// Whatever goes wrong on the lines, in whatever mixture: a hundred thousand transactions by libmodbus.
#include <algorithm>
#include <array>
#include <chrono>
#include <cstdint>
#include <map>
#include <set>
#include <string>
#include <utility>
#include <vector>

#include <doctest/doctest.h>

#include "sim/base/random.hpp"
#include "sim/bench/impairment.hpp"
#include "sim/bench/line_observer.hpp"
#include "tests/sim/io/master/any_action.hpp"
#include "tests/sim/io/master/stepped_rig.hpp"
#include "tests/support/this_build.hpp"

namespace emberline::io {
namespace {

using modbus::Bytes;
using modbus::ByteView;

const std::uint64_t kTransactions = testing::sanitized() ? 10'000 : 100'000 * testing::times_as_long();

constexpr std::size_t kField = 0;
constexpr std::size_t kEthernet = 1;
constexpr Duration kTimeout = 100ms;
constexpr Duration kQuiet = 1500ms;  ///< how long both lines are good after each storm

/// CRC-16 bit by bit, as MODBUS over Serial Line V1.02, 6.2.2 puts it in words: nothing of the program is
/// used to find out whether a frame is good.
std::uint16_t crc_of(ByteView bytes) {
  std::uint16_t crc = 0xFFFF;
  for (const std::uint8_t byte : bytes) {
    crc = static_cast<std::uint16_t>(crc ^ byte);
    for (int bit = 0; bit < 8; ++bit) {
      const bool carry = (crc & 1u) != 0;
      crc = static_cast<std::uint16_t>(crc >> 1u);
      if (carry) crc = static_cast<std::uint16_t>(crc ^ 0xA001u);
    }
  }
  return crc;
}

Bytes rtu(std::uint8_t id, ByteView pdu) {
  Bytes frame{id};
  frame.insert(frame.end(), pdu.begin(), pdu.end());
  const std::uint16_t crc = crc_of(frame);
  frame.push_back(static_cast<std::uint8_t>(crc & 0xFFu));
  frame.push_back(static_cast<std::uint8_t>(crc >> 8u));
  return frame;
}

// --- the bench, with room for values that are never written twice

constexpr std::uint16_t kSetpointAt = 48;
constexpr double kSetpointScale = 2e-5;  // 0 to 50000
constexpr std::uint16_t kHeartbeatAt = 80;

bench::BenchSpec bench_spec() {
  using registers::Point;
  registers::TableParts parts;
  parts.title = "wide";
  const auto add = [&](std::uint16_t address, Point point, registers::Type type, double scale,
                       bool writable) {
    registers::Row row;
    row.address = address;
    row.point = point;
    row.layout.type = type;
    row.layout.scale = scale;
    row.access = writable ? registers::Access::read_write : registers::Access::read_only;
    parts.rows.push_back(row);
  };
  add(kSetpointAt, Point::setpoint, registers::Type::u16, kSetpointScale, true);
  parts.rows.back().range = {0.0, 1.0};
  add(64, Point::load_current_l1, registers::Type::u16, 0.1, false);
  add(65, Point::state, registers::Type::u16, 1.0, false);
  add(kHeartbeatAt, Point::heartbeat, registers::Type::u32, 1.0, true);
  bench::BenchSpec spec = two_heaters();
  for (auto& entry : spec.units) entry.unit.table = make_register_table(parts).value();
  return spec;
}

/// A request as it may be on the wire, by unit id and PDU.
using Request = std::pair<std::uint8_t, Bytes>;

std::uint8_t high(unsigned value) { return static_cast<std::uint8_t>(value >> 8u & 0xFFu); }
std::uint8_t low(unsigned value) { return static_cast<std::uint8_t>(value & 0xFFu); }

/// Stand-ins that read both units all the time and write each value once, and every request they can send,
/// written out by hand (MODBUS Application Protocol V1.1b3, 6.3, 6.6 and 6.12) with its earliest time.
struct Masters {
  std::vector<rehearsal::MasterSpec> specs;
  std::map<Request, SimTime> requests;

  Masters() {
    const auto spec = bench_spec();
    const std::array<std::string, 2> units{"north", "south"};
    const auto read = [&](rehearsal::MasterSpec& of, Duration period, const std::string& point, Bytes pdu) {
      for (std::uint8_t u = 0; u < 2; ++u) {
        rehearsal::ProgramStep step;
        step.every = period;
        step.reads = {rehearsal::resolve_target(spec, units.at(u) + "." + point, false).value()};
        of.program.push_back(step);
        requests.emplace(Request{static_cast<std::uint8_t>(u + 1), pdu}, SimTime{});
      }
    };
    unsigned next = 1;
    const auto write = [&](rehearsal::MasterSpec& of, Duration when) {
      const std::uint8_t id = static_cast<std::uint8_t>(1 + next % 2);
      const bool single = next % 3 != 0;
      const std::string name = units.at(id - 1u) + (single ? ".setpoint" : ".heartbeat");
      const unsigned value = next++ * 37;  // scattered, so that neighbours differ in several bits
      rehearsal::ProgramStep step;
      step.kind = rehearsal::ProgramStep::Kind::write;
      step.at = at(when);
      step.writes = {
          {rehearsal::resolve_target(spec, name, true).value(), single ? value * kSetpointScale : value}};
      of.program.push_back(step);
      const Bytes pdu = single ? Bytes{0x06, 0, kSetpointAt, high(value), low(value)}
                               : Bytes{0x10, 0, kHeartbeatAt, 0, 2, 4, 0, 0, high(value), low(value)};
      requests.emplace(Request{id, pdu}, at(when));
    };
    const Bytes setpoint{0x03, 0, kSetpointAt, 0, 1};
    const Bytes state{0x03, 0, 65, 0, 1};
    const Bytes current{0x03, 0, 64, 0, 1};
    auto plc = master("plc", {"field"}, {});
    read(plc, 50ms, "setpoint", setpoint);
    read(plc, 90ms, "state", state);
    auto panel = master("panel", {"ethernet"}, {});
    read(panel, 25ms, "setpoint", setpoint);
    read(panel, 40ms, "state", state);
    auto logger = master("logger", {"field", "ethernet"}, {});
    read(logger, 250ms, "load_current_l1", current);
    logger.retries = 1;
    for (unsigned second = 1; second < 1300; second += 2) {
      write(plc, std::chrono::seconds{second} + 7ms);
      write(panel, std::chrono::seconds{second + 1} + 3ms);
    }
    specs = {plc, panel, logger};
    for (auto& one : specs) {
      one.timeout = kTimeout;
      one.lost_after = 1;
    }
  }
};

// --- who watches

/// Sees the bytes that come to the units on the RTU line, behind all impairments, and holds every frame that
/// is taken for a good one against them.
struct Arrivals {
  Bytes raw;
  std::uint64_t frames = 0;
  std::uint64_t broken = 0;  ///< of the chunks that came: no good frame
  std::uint64_t wrong = 0;   ///< frames that were taken for good, and are not
};

class Witness final : public bench::Impairment {
 public:
  explicit Witness(Arrivals& arrivals) : arrivals_(arrivals) {}
  void bytes_in(Bytes& bytes, Random& /*chance*/) override {
    arrivals_.raw = bytes;
    if (bytes.size() < 4 || crc_of(bytes) != 0) ++arrivals_.broken;
  }
  std::optional<Duration> request(const bench::Query& query, Random& /*chance*/) override {
    ++arrivals_.frames;
    const Bytes& raw = arrivals_.raw;
    const bool same =
        raw == Bytes(query.frame.begin(), query.frame.end()) && raw == rtu(query.unit_id, query.pdu);
    if (!same || crc_of(raw) != 0) ++arrivals_.wrong;
    return Duration::zero();
  }

 private:
  Arrivals& arrivals_;
};

/// Sees what units get and what goes back.
class Watch final : public bench::LineObserver {
 public:
  explicit Watch(const Masters& masters) : masters_(masters) {}

  void request(const bench::RequestSeen& seen) override {
    const auto known = masters_.requests.find({seen.unit_id, Bytes(seen.pdu.begin(), seen.pdu.end())});
    if (known == masters_.requests.end() || known->second > seen.at) ++foreign.at(seen.line);
    if (!quiet_since || !seen.addressed || seen.asked_at < *quiet_since) return;
    Asked asked{seen.line, seen.asked_at, seen.unit_id, Bytes(seen.answer.begin(), seen.answer.end()), false};
    asked_.insert_or_assign({seen.session, seen.number}, std::move(asked));
  }
  void answer(const bench::AnswerSeen& seen) override {
    const auto known = asked_.find({seen.session, seen.number});
    if (known == asked_.end()) return;
    Asked& asked = known->second;
    const Bytes bytes(seen.bytes.begin(), seen.bytes.end());
    const bool whole = asked.line == kField
                           ? bytes == rtu(asked.id, asked.answer)
                           : bytes.size() == 7 + asked.answer.size() && bytes[6] == asked.id &&
                                 std::equal(asked.answer.begin(), asked.answer.end(), bytes.begin() + 7);
    asked.answered = whole && seen.at <= asked.at + kTimeout;
  }
  void session_ended(const bench::SessionSeen& seen) override {
    // A master that finds an old transaction id closes its connection, and what it had asked dies with it.
    std::erase_if(asked_, [&](const auto& one) { return one.first.first == seen.session; });
  }
  void write(const unit::WriteSeen& /*write*/) override { ++writes; }

  void begin_quiet(SimTime now) {
    quiet_since = now;
    asked_.clear();
  }
  /// Requests of the quiet time before `until`, by line, and how many of them were not answered in time.
  void end_quiet(SimTime until) {
    quiet_since.reset();
    for (const auto& [key, asked] : asked_) {
      if (asked.at > until) continue;
      ++good.at(asked.line);
      if (!asked.answered) ++unanswered;
    }
    asked_.clear();
  }

  std::array<std::uint64_t, 2> foreign{};  ///< requests that nobody can have sent, by line
  std::array<std::uint64_t, 2> good{};
  std::uint64_t unanswered = 0;
  std::uint64_t writes = 0;
  std::optional<SimTime> quiet_since;

 private:
  struct Asked {
    std::size_t line;
    SimTime at;
    std::uint8_t id;
    Bytes answer;
    bool answered;
  };
  const Masters& masters_;
  std::map<std::pair<std::uint64_t, std::uint64_t>, Asked> asked_;
};

// --- what goes wrong

class Storms {
 public:
  Storms(SteppedRig& rig, Watch& watch, Arrivals& arrivals, std::uint64_t seed)
      : rig_(rig), watch_(watch), arrivals_(arrivals), chance_(seed) {
    watch_field(at(0s));
  }

  /// Some seconds in which things go wrong, then everything is lifted, then a while of good lines.
  void next() {
    const SimTime begin = now_;
    const Duration length = 3s + std::chrono::milliseconds{chance_.below(7000)};
    const auto count = 1 + chance_.below(12);
    for (std::uint64_t i = 0; i < count; ++i) {
      const SimTime when =
          begin + std::chrono::milliseconds{chance_.below(static_cast<std::uint64_t>(length / 1ms))};
      const std::string text = any_action(chance_);
      words.insert(text.substr(0, text.find(' ')));
      perform(when, text);
      if (chance_.below(4) == 0)
        perform(when + 500ms, chance_.below(2) == 0 ? "restore field" : "restore ethernet");
    }
    const SimTime lifted = begin + length;
    for (const auto* text : {"restore field", "restore ethernet", "free north", "free south"})
      perform(lifted, text);
    rig_.hands.add(lifted, [this, lifted] { watch_.begin_quiet(lifted); });
    now_ = lifted + kQuiet;
    rig_.run(now_.time_since_epoch());
    watch_.end_quiet(now_ - kTimeout);
  }

  std::set<std::string> words;  ///< that have been drawn

 private:
  void perform(SimTime when, const std::string& text) {
    rig_.perform(when, text);
    rig_.hands.add(when, [this, when] { watch_field(when); });
  }
  /// The witness stands behind whatever else stands on the line.
  void watch_field(SimTime when) {
    bench::Lines& lines = rig_.bench().lines();
    lines.lift(kField, "witness", when);
    lines.impair(kField, "witness", std::make_unique<Witness>(arrivals_), "is watched", when);
  }
  SteppedRig& rig_;
  Watch& watch_;
  Arrivals& arrivals_;
  Random chance_;
  SimTime now_{1s};
};

/// True if the stand-in takes no slave for lost, by what it last said about each.
std::vector<std::string> still_lost(SteppedRig& rig) {
  std::map<std::string, bool> lost;
  for (const auto& entry : rig.bench().journal().entries()) {
    const std::string& sentence = entry.sentence;
    for (const std::string unit : {"north", "south"}) {
      if (sentence.starts_with("no answer from " + unit)) lost[entry.subject + " " + unit] = true;
      if (sentence.starts_with(unit + " answers again")) lost[entry.subject + " " + unit] = false;
    }
  }
  std::vector<std::string> names;
  for (const auto& [name, is_lost] : lost)
    if (is_lost) names.push_back(name);
  return names;
}

TEST_CASE("random impairments: no unit acts on a bad frame, none crashes, and lifted is lifted") {
  const Masters masters;
  Watch watch(masters);
  Arrivals arrivals;
  SteppedRig rig(masters.specs, bench_spec(), 11);
  rig.bench().lines().add_observer(watch);
  Storms storms(rig, watch, arrivals, 12);
  const auto begin = std::chrono::steady_clock::now();
  std::uint64_t rounds = 0;
  while (rig.masters().transactions() < kTransactions) {
    const auto good = watch.good;
    storms.next();
    ++rounds;
    CAPTURE(rounds);
    // (4) the next good requests were answered, and there were such.
    CHECK(watch.unanswered == 0);
    CHECK(watch.good[kField] >= good[kField] + 20);
    CHECK(watch.good[kEthernet] >= good[kEthernet] + 60);
    const auto lost = still_lost(rig);
    CHECK_MESSAGE(lost.empty(), lost.front());
    if (watch.unanswered > 0 || !lost.empty()) break;
  }
  const std::chrono::duration<double> took = std::chrono::steady_clock::now() - begin;

  // (1) Every frame that was taken for good was good by a second CRC, and was on the line as such; every
  // request that units took was one that a stand-in can have sent. A frame that is damaged at random has a
  // good CRC once in 65536 times, and then no receiver can know: the line's count may hold a few.
  CHECK(arrivals.wrong == 0);
  CHECK(arrivals.broken > kTransactions / 500);
  CHECK(watch.foreign[kEthernet] == 0);
  CHECK(watch.foreign[kField] <= 4);
  // (3)
  const std::string journal = rig.journal();
  const std::string told = ": took a late answer to an earlier request on field";
  if (kTransactions >= 100'000) {  // a tenth is too short to count on it
    CHECK(rig.masters().mistaken_answers() > 0);
    CHECK(journal.find(told) != std::string::npos);
    CHECK(storms.words.size() == 17);  // all that any_action() has
  }
  for (const std::string name : {"plc", "logger"}) {
    const auto first = journal.find(name + told);
    if (first != std::string::npos) CHECK(journal.find(name + told, first + 1) == std::string::npos);
  }
  MESSAGE(rig.masters().transactions()
          << " transactions in " << rounds << " storms, " << arrivals.frames << " good and "
          << arrivals.broken << " broken frames on the RTU line, " << watch.foreign[kField]
          << " of the good ones by chance, " << watch.writes << " writes, "
          << rig.masters().mistaken_answers() << " answers taken for others, " << took.count() << " s");
}

}  // namespace
}  // namespace emberline::io
