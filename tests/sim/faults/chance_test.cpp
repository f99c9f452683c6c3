// Impairments that draw: how often, how much, and that a seed says it all.
#include <algorithm>
#include <bit>
#include <cmath>
#include <cstdint>
#include <string>
#include <vector>

#include <doctest/doctest.h>

#include "sim/modbus/crc.hpp"
#include "tests/sim/faults/exchange.hpp"

using namespace emberline;
using namespace emberline::testing;

namespace {

constexpr int kMany = 4000;

/// Five standard deviations of a count of hits: a binomial distribution's variance is n p (1 - p). Once in
/// two million seeds a count lies beyond; the seed here is fixed.
double tolerance(double tries, double share) { return 5.0 * std::sqrt(tries * share * (1.0 - share)); }

unsigned flipped_bits(const Bytes& a, const Bytes& b) {
  unsigned count = 0;
  for (std::size_t i = 0; i < a.size(); ++i)
    count += static_cast<unsigned>(std::popcount(static_cast<std::uint8_t>(a[i] ^ b[i])));
  return count;
}

/// Everything that is heard and done in fifty requests with an impairment.
std::string record_of(const std::string& action, std::size_t line, std::uint64_t seed) {
  Exchange exchange(seed);
  exchange.perform(action);
  std::string text;
  for (int i = 0; i < 50; ++i) {
    for (const auto& heard : exchange.ask(line, i % 2 == 0 ? kReadTwo : kWrite)) {
      text += std::to_string(heard.after.count()) + ":";
      for (const auto byte : heard.bytes) text += " " + std::to_string(byte);
      text += "\n";
    }
    text += std::to_string(exchange.written.size()) + "\n";
  }
  return text;
}

}  // namespace

TEST_CASE("two runs with one seed are the same to the byte, another seed gives something else") {
  const char* const of_any_line[] = {"drop_requests LINE share 50 %",
                                     "drop_answers LINE share 50 %",
                                     "delay LINE by 10 ms jitter 50 ms way both",
                                     "truncate LINE",
                                     "repeat_answer LINE share 50 %",
                                     "late_answer LINE share 50 %",
                                     "wrong_id LINE as 9 share 50 %"};
  const char* const of_rtu_lines[] = {"bit_errors LINE rate 0.005", "noise LINE share 50 % bytes 3",
                                      "collision LINE id 1"};
  const auto check = [](std::string action, std::size_t line) {
    action.replace(action.find("LINE"), 4, line == kField ? "field" : "ethernet");
    CAPTURE(action);
    const std::string first = record_of(action, line, 1);
    CHECK(first == record_of(action, line, 1));
    CHECK(first != record_of(action, line, 2));
  };
  for (const auto* action : of_any_line) {
    check(action, kField);
    check(action, kEthernet);
  }
  for (const auto* action : of_rtu_lines) check(action, kField);
}

TEST_CASE("a share of requests or answers is lost as often as it says") {
  struct Case {
    const char* action;
    double share;
    bool of_answers;
  };
  const Case cases[] = {{"drop_requests field share 30 %", 0.3, false},
                        {"drop_answers field share 30 %", 0.3, true},
                        {"drop_answers field share 2 %", 0.02, true}};
  for (const auto& [action, share, of_answers] : cases) {
    CAPTURE(action);
    Exchange exchange;
    exchange.perform(action);
    int answered = 0;
    for (int i = 0; i < kMany; ++i) answered += static_cast<int>(exchange.ask(kField, kWrite).size());
    CHECK(std::abs(kMany * (1.0 - share) - answered) <= tolerance(kMany, share));
    CHECK(exchange.written.size() == static_cast<std::size_t>(of_answers ? kMany : answered));
  }
}

TEST_CASE("bits are turned over at the rate that was asked for, either way") {
  const Bytes request = modbus::rtu_frame(1, kWrite);
  constexpr double kRate = 0.002;
  const double bits = 8.0 * static_cast<double>(request.size());
  {  // towards the masters every damaged bit can be seen
    Exchange exchange;
    exchange.perform("bit_errors field rate 0.002 way to-masters");
    unsigned flipped = 0;
    for (int i = 0; i < kMany; ++i) {
      const auto heard = exchange.ask(kField, kWrite);
      REQUIRE(heard.size() == 1);
      flipped += flipped_bits(heard[0].bytes, request);
    }
    CHECK(std::abs(kRate * bits * kMany - flipped) <= tolerance(bits * kMany, kRate));
  }
  {  // towards the units a frame is good if no bit is hit: (1 - p)^64
    Exchange exchange;
    exchange.perform("bit_errors field rate 0.002 way to-units");
    for (int i = 0; i < kMany; ++i) (void)exchange.ask(kField, kWrite);
    const double good = std::pow(1.0 - kRate, bits);
    CHECK(std::abs(kMany * good - static_cast<double>(exchange.written.size())) <= tolerance(kMany, good));
    for (const double value : exchange.written) CHECK(value == doctest::Approx(0.5));
  }
}

TEST_CASE("jitter lies between nothing and what was asked for, evenly spread") {
  Exchange exchange;
  exchange.perform("delay ethernet by 10 ms jitter 40 ms");
  double sum_s = 0.0;
  Duration least = 1s;
  Duration most{};
  for (int i = 0; i < kMany; ++i) {
    const auto heard = exchange.ask(kEthernet, kWrite);
    REQUIRE(heard.size() == 1);
    least = std::min(least, heard[0].after);
    most = std::max(most, heard[0].after);
    sum_s += to_seconds(heard[0].after);
  }
  CHECK(least >= 10ms);
  CHECK(least < 10200us);
  CHECK(most < 50ms);
  CHECK(most > 49800us);
  // Five standard deviations of the mean of an even spread: width / sqrt(12 n).
  CHECK(std::abs(sum_s / kMany - 0.030) < 5.0 * 0.040 / std::sqrt(12.0 * kMany));
}

TEST_CASE("frames that a delay with jitter holds up keep their order") {
  Exchange exchange;
  exchange.perform("delay ethernet by 1 ms jitter 900 ms way both");
  Bytes both = modbus::mbap_frame(7, 1, kReadTwo);
  const Bytes second = modbus::mbap_frame(8, 1, kWrite);
  both.insert(both.end(), second.begin(), second.end());
  for (int i = 0; i < 200; ++i) {
    const auto heard = exchange.send(kEthernet, both);
    std::size_t place = 0;
    for (const auto& answer : heard) {
      REQUIRE(answer.bytes.size() > 1);
      const std::uint8_t transaction = answer.bytes[1];
      CHECK(transaction == 7 + place++ % 2);
    }
    exchange.go_to(exchange.now() + 2s);
    (void)exchange.send(kEthernet, {});
  }
}

TEST_CASE("an answer that is cut short by chance loses one byte at least and keeps one at least") {
  Exchange exchange;
  exchange.perform("truncate field");
  const Bytes whole = modbus::rtu_frame(1, kWrite);
  std::vector<int> times(whole.size() + 1);
  for (int i = 0; i < kMany; ++i) {
    const auto heard = exchange.ask(kField, kWrite);
    REQUIRE(heard.size() == 1);
    const auto size = heard[0].bytes.size();
    REQUIRE(size <= whole.size());
    CHECK(std::equal(heard[0].bytes.begin(), heard[0].bytes.end(), whole.begin()));
    CHECK(std::chrono::abs(heard[0].after - rtu_after(size)) <= 20ns);
    ++times[size];
  }
  CHECK(times.front() == 0);
  CHECK(times.back() == 0);
  for (std::size_t size = 1; size < whole.size(); ++size) CHECK(times[size] > 0);
}

TEST_CASE("a burst of noise stands before, over or behind an answer") {
  const Bytes whole = modbus::rtu_frame(1, kWrite);
  struct Case {
    const char* place;
    std::size_t size, first_good, good;
  };
  const Case cases[] = {{"before", 11, 3, 8}, {"behind", 11, 0, 8}, {"over", 8, 0, 0}};
  for (const auto& row : cases) {
    CAPTURE(std::string(row.place));
    Exchange exchange;
    exchange.perform(std::string("noise field bytes 3 way to-masters place ") + row.place);
    bool differ = false;
    Bytes last;
    for (int i = 0; i < 100; ++i) {
      const auto heard = exchange.ask(kField, kWrite);
      REQUIRE(heard.size() == 1);
      const Bytes& bytes = heard[0].bytes;
      REQUIRE(bytes.size() == row.size);
      CHECK(std::chrono::abs(heard[0].after - rtu_after(row.size)) <= 20ns);
      CHECK(std::equal(whole.begin(), whole.begin() + static_cast<std::ptrdiff_t>(row.good),
                       bytes.begin() + static_cast<std::ptrdiff_t>(row.first_good)));
      if (row.good == 0) {
        std::size_t spoilt = 0;
        for (std::size_t b = 0; b < bytes.size(); ++b) spoilt += bytes[b] != whole[b] ? 1 : 0;
        CHECK(spoilt <= 3);
      }
      differ = differ || (!last.empty() && bytes != last);
      last = bytes;
    }
    CHECK(differ);
  }
}

TEST_CASE("two devices that answer at once: a bit is 0 if either of them says so") {
  Exchange exchange;
  exchange.perform("collision field id 1");
  const Bytes first = modbus::rtu_frame(1, kWrite);
  std::vector<int> lags(3);
  for (int i = 0; i < 300; ++i) {
    const auto heard = exchange.ask(kField, kWrite);
    REQUIRE(heard.size() == 1);
    const Bytes& bytes = heard[0].bytes;
    REQUIRE(bytes.size() >= first.size());
    const std::size_t lag = bytes.size() - first.size();
    REQUIRE(lag <= 2);
    ++lags[lag];
    CHECK(std::chrono::abs(heard[0].after - rtu_after(bytes.size())) <= 20ns);
    // To a write both say the same, the second one later.
    for (std::size_t b = 0; b < bytes.size(); ++b) {
      const unsigned one = b < first.size() ? first[b] : 0xFFu;
      const unsigned other = b >= lag ? first[b - lag] : 0xFFu;
      CHECK(bytes[b] == (one & other));
    }
  }
  for (const int times : lags) CHECK(times > 60);
  CHECK(exchange.written.size() == 300);  // the first one acts

  // To a read they do not: hardly any answer is a good frame, and one to another id always is.
  int good = 0;
  for (int i = 0; i < 300; ++i) {
    const auto heard = exchange.ask(kField, kReadTwo);
    REQUIRE(heard.size() == 1);
    if (modbus::crc16(heard[0].bytes) == 0) ++good;
  }
  CHECK(good <= 3);
  CHECK(exchange.ask(kField, kReadTwo, 9).empty());
}
