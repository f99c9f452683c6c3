#include "sim/io/line/first_request.hpp"

#include <doctest/doctest.h>

#include "sim/modbus/crc.hpp"
#include "tests/sim/io/line/raw_master.hpp"

using namespace emberline;
using namespace emberline::test;
using namespace std::chrono_literals;

namespace {

/// A TCP line and a pty, with heaters 1 and 2 on both.
bench::BenchSpec spec_of_both() { return small_bench(); }

std::size_t line_of(const bench::BenchSpec& spec, bool rtu) {
  for (std::size_t i = 0; i < spec.lines.size(); ++i)
    if (bench::carries_rtu(spec.lines[i].kind) == rtu) return i;
  FAIL("no such line");
  return 0;
}

Bytes joined(std::initializer_list<Bytes> parts) {
  Bytes all;
  for (const auto& part : parts) all.insert(all.end(), part.begin(), part.end());
  return all;
}

const Bytes kReadState{0x03, 0x00, 0x41, 0x00, 0x01};

}  // namespace

TEST_CASE("RTU: nothing but a good request to somebody here begins the run") {
  const auto spec = spec_of_both();
  const auto line = line_of(spec, true);
  io::FirstRequest first(spec, line);
  const auto good = modbus::rtu_frame(1, kReadState);
  auto spoilt = good;
  spoilt.back() ^= 1;
  SimTime at{};
  CHECK_FALSE(first.in(spoilt, at += 1s));
  CHECK_FALSE(first.in(modbus::rtu_frame(99, kReadState), at += 1s));  // nobody has the id
  CHECK_FALSE(first.in(Bytes{0x01, 0x03, 0x00}, at += 1s));            // torn, and the rest never comes
  CHECK_FALSE(first.in(modbus::ByteView(good).first(5), at += 1s));
  const auto whole = first.in(modbus::ByteView(good).subspan(5), at);
  REQUIRE(whole);
  CHECK(*whole == good);
  // A broadcast reaches all of them (MODBUS over Serial Line V1.02, 2.1).
  io::FirstRequest other(spec, line);
  const auto broadcast = modbus::rtu_frame(0, Bytes{0x06, 0x00, 0x30, 0x00, 0x00});
  CHECK(other.in(broadcast, at) == broadcast);
}

TEST_CASE("TCP: what comes behind the first request, or before it without an address here, is kept in step") {
  const auto spec = spec_of_both();
  const auto line = line_of(spec, false);
  io::FirstRequest first(spec, line);
  const auto foreign = modbus::mbap_frame(1, 99, kReadState);
  const auto good = modbus::mbap_frame(2, 1, kReadState);
  const auto next = modbus::mbap_frame(3, 1, kReadState);
  const Bytes begun(next.begin(), next.begin() + 4);
  CHECK(first.in(joined({foreign, good, begun}), SimTime{}) == joined({good, begun}));
  // Half of a request that comes over another connection than the first.
  io::FirstRequest waiting(spec, line);
  CHECK_FALSE(waiting.in(joined({foreign, begun}), SimTime{}));
  CHECK(waiting.unfinished() == begun);
  CHECK(waiting.unfinished().empty());
  CHECK_FALSE(waiting.lost());
  // The header of another protocol: there is nothing to wait for.
  io::FirstRequest other(spec, line);
  auto another = good;
  another[3] = 7;
  CHECK_FALSE(other.in(modbus::ByteView(another).first(5), SimTime{}));
  CHECK_FALSE(other.lost());
  CHECK_FALSE(other.in(modbus::ByteView(another).subspan(5, 1), SimTime{}));
  CHECK(other.lost());
}

TEST_CASE("TCP: who speaks something else is not waited for") {
  const auto spec = spec_of_both();
  io::FirstRequest first(spec, line_of(spec, false));
  const Bytes words{'G', 'E', 'T', ' ', '/', ' ', 'H', 'T', 'T', 'P', '/', '1', '.', '1', '\r', '\n'};
  CHECK_FALSE(first.in(words, SimTime{}));
  CHECK(first.lost());
}

TEST_CASE("the first request over a real line is answered at the start of time, and moves what comes after") {
  auto spec = small_bench();
  for (const bool rtu : {true, false}) {
    CAPTURE(rtu);
    bench::Bench bench(spec);
    bench::EventLoop loop;
    loop.add(bench::Rank::timers, bench.timers());
    loop.add(bench::Rank::grid, bench.grid());
    io::WallBench::Options options;
    options.private_lines = true;
    options.wait_for_master = kPatience;
    io::WallBench wall(bench, loop, options);
    const auto lines = wall.open();
    REQUIRE(lines);
    std::vector<SimTime> asked;
    class Watch final : public bench::LineObserver {
     public:
      explicit Watch(std::vector<SimTime>& times) : times_(times) {}
      void request(const bench::RequestSeen& request) override { times_.push_back(request.at); }

     private:
      std::vector<SimTime>& times_;
    } watch(asked);
    bench.lines().add_observer(watch);
    bool told = false;
    wall.on_begun([&] { told = true; });
    CHECK_FALSE(wall.begun());
    std::thread serving([&wall] { wall.run(); });
    {
      const auto& place = (*lines)[line_of(spec, rtu)];
      const auto master = rtu ? RawMaster::pty(place.path) : RawMaster::tcp(place.port);
      const auto frame = [&](std::uint8_t id) {
        return rtu ? modbus::rtu_frame(id, kReadState) : modbus::mbap_frame(7, id, kReadState);
      };
      const std::size_t answer = rtu ? 7 : 11;
      if (!rtu) master.send(frame(99));
      master.send(frame(1));
      CHECK(master.receive(answer).size() == answer);
      master.send(frame(1));
      CHECK(master.receive(answer).size() == answer);
    }
    wall.stop();
    serving.join();
    bench.lines().remove_observer(watch);
    CHECK(wall.begun());
    CHECK(told);
    REQUIRE(asked.size() == 2);
    CHECK(asked[0] == SimTime{});
    CHECK(asked[1] > SimTime{});
  }
}

TEST_CASE("a bench whose master never comes ends by itself, at the start of time") {
  bench::Bench bench(small_bench());
  bench::EventLoop loop;
  loop.add(bench::Rank::timers, bench.timers());
  loop.add(bench::Rank::grid, bench.grid());
  io::WallBench::Options options;
  options.private_lines = true;
  options.wait_for_master = 20ms;
  io::WallBench wall(bench, loop, options);
  REQUIRE(wall.open());
  wall.run();
  CHECK_FALSE(wall.begun());
  CHECK(wall.now() == SimTime{});
  CHECK(loop.now() == SimTime{});
}
