#include "sim/bench/retries.hpp"

#include <string>

#include <doctest/doctest.h>

#include "tests/support/heated_bench.hpp"

using namespace emberline;
using modbus::Bytes;
using namespace std::chrono_literals;

namespace {

/// Requests of masters of a TCP line.
struct Ethernet {
  Ethernet() { spec.lines.at(0).kind = bench::LineKind::tcp; }
  bool ask(std::uint64_t session, const std::string& master, std::uint8_t function = 3) {
    const Bytes pdu{function, 0, 1, 0, 1};
    bench::RequestSeen seen;
    seen.session = session;
    seen.master = master;
    seen.unit_id = 1;
    seen.pdu = pdu;
    return retries.request(seen);
  }
  void answer(std::uint64_t session) {
    bench::AnswerSeen seen;
    seen.session = session;
    retries.answer(seen);
  }
  void hang_up(std::uint64_t session, const std::string& master) {
    retries.session_ended({session, 0, master, SimTime{1s}});
  }
  bench::BenchSpec spec = testing::heated_bench();
  bench::Retries retries{spec};
};

constexpr const char* kFirst = "192.0.2.7:49160";
constexpr const char* kSecond = "192.0.2.7:49161";
constexpr const char* kThird = "192.0.2.7:49162";

}  // namespace

TEST_CASE("a master that hangs up when an answer is missing never tries again") {
  Ethernet ethernet;
  CHECK_FALSE(ethernet.ask(1, kFirst));
  ethernet.hang_up(1, kFirst);
  CHECK(ethernet.ask(2, kSecond));
  // And again, this time before the old connection is seen to be over.
  CHECK(ethernet.ask(3, kThird));
  ethernet.hang_up(2, kSecond);
  ethernet.answer(3);
  ethernet.hang_up(3, kThird);
  CHECK_FALSE(ethernet.ask(4, kFirst));
}

TEST_CASE("a new connection makes a retry of what is none") {
  Ethernet ethernet;
  CHECK_FALSE(ethernet.ask(1, kFirst));
  ethernet.hang_up(1, kFirst);
  SUBCASE("somebody else asks the same") { CHECK_FALSE(ethernet.ask(2, "192.0.2.8:49161")); }
  SUBCASE("it asks for something else") { CHECK_FALSE(ethernet.ask(2, kSecond, 4)); }
  SUBCASE("two connections are open, each with its own requests") {
    CHECK_FALSE(ethernet.ask(2, kSecond, 4));
    ethernet.answer(2);
    CHECK_FALSE(ethernet.ask(3, kThird));
    CHECK_FALSE(ethernet.ask(2, kSecond));
    ethernet.answer(2);
    CHECK(ethernet.ask(3, kThird));
  }
}
