#include "sim/polling/plan_review.hpp"

#include <chrono>
#include <string>
#include <vector>

#include <doctest/doctest.h>

#include "tests/sim/polling/wishes.hpp"

using namespace emberline;
using namespace emberline::polling;
using namespace std::chrono_literals;
using testing::lehr;
using testing::want;
using testing::wish_for;

namespace {

using Block = bench::TrafficPair::Block;

/// Reads of 0x0041 (8 registers) every 0.5 s and of drying-heater's 0x0041 every second; a setpoint.
PollPlan plan() {
  PollWish wish = wish_for(lehr(), "field");
  for (const char* point : {"load_power", "state", "output"})
    wish.reads.push_back(want(*wish.bench, std::string("soak-heater.") + point, 500ms));
  wish.reads.push_back(want(*wish.bench, "drying-heater.state", 1s));
  wish.writes.push_back(want(*wish.bench, "soak-heater.setpoint", 1s, true));
  auto made = make_poll_plan(std::move(wish));
  REQUIRE(made);
  return std::move(made).value();
}

bench::TrafficPair pair(int id, const std::string& slave, std::vector<Block> blocks) {
  bench::TrafficPair pair;
  pair.line = "field";
  pair.master = "plc";
  pair.unit_id = id;
  pair.slave = slave;
  for (const Block& block : blocks) pair.requests += block.times;
  pair.per_second = static_cast<double>(pair.requests - 1) / 100.0;  // a run of 100 s
  pair.blocks = std::move(blocks);
  return pair;
}

bench::TrafficReview traffic(std::vector<Block> soak, std::vector<Block> drying) {
  bench::TrafficReview review;
  bench::TrafficLine line;
  line.line = "field";
  line.requests = 300;
  line.time_share = 0.0671;
  line.time_used = 6710ms;  // of 100 s
  review.lines = {line};
  if (!soak.empty()) review.pairs.push_back(pair(1, "soak-heater", std::move(soak)));
  if (!drying.empty()) review.pairs.push_back(pair(2, "drying-heater", std::move(drying)));
  return review;
}

const Block kSetpoint{6, 0x30, 1, 100};
const Block kFast{3, 0x41, 8, 200};
const Block kState{3, 0x41, 1, 100};
// MODBUS over Serial Line V1.02, 2.5.1: (23 + 2 x 36 + 22) characters a second of 11 bits at 19200 bit/s.
const std::string kShares = "the plan takes 6.7 % of field's time, what came took 6.7 %";

}  // namespace

TEST_CASE("a master that keeps to its plan is told so") {
  CHECK(review_against(plan(), traffic({kFast, kSetpoint}, {kState})) ==
        std::vector<std::string>{kShares,
                                 "every block read came as planned, as often as planned, and no other"});
  // One more at the end is no other rate, and 9 % is not a tenth.
  CHECK(review_against(plan(), traffic({{3, 0x41, 8, 218}, kSetpoint}, {{3, 0x41, 1, 101}})).size() == 2);
}

TEST_CASE("a block read at another rate is told with both periods") {
  CHECK(
      review_against(plan(), traffic({{3, 0x41, 8, 100}, kSetpoint}, {kState})) ==
      std::vector<std::string>{kShares,
                               "the read of 8 registers of soak-heater from 0x0041 (40066) came every 1 s on "
                               "average, and the plan has it every 0.5 s"});
  CHECK(review_against(plan(), traffic({{3, 0x41, 8, 221}, kSetpoint}, {kState})).size() == 2);
  CHECK(review_against(plan(), traffic({{3, 0x41, 8, 221}, kSetpoint}, {kState}))[1].find("came every") !=
        std::string::npos);
}

TEST_CASE("what never came, and what the plan does not have, is told") {
  const auto sentences = review_against(plan(), traffic({kFast, kSetpoint, {4, 0x50, 2, 7}}, {}));
  CHECK(
      sentences ==
      std::vector<std::string>{
          kShares,
          "the read of 1 register of drying-heater from 0x0041 (40066), every 1 s, is in the plan and never "
          "came",
          "not in the plan: 2 from 0x0050 (30081) of soak-heater, read 7 times"});
  const auto unwritten = review_against(plan(), traffic({kFast}, {kState}));
  REQUIRE(unwritten.size() == 2);
  CHECK(unwritten[1] ==
        "the write of 1 register to soak-heater at 0x0030 (40049), every 1 s, is in the plan and never came");
}

TEST_CASE("a planned write at another rate passes for one as planned") {
  // By 10 (hex) with its neighbours, as often as planned, and both ways together.
  CHECK(review_against(plan(), traffic({kFast, {0x10, 0x2F, 4, 100}}, {kState}))[1].find("as planned") !=
        std::string::npos);
  CHECK(review_against(plan(), traffic({kFast, {0x10, 0x2F, 4, 50}, {6, 0x30, 1, 50}}, {kState}))[1].find(
            "as planned") != std::string::npos);
  // 300 requests in all, of which the write came 50 times, in 100 s.
  CHECK(review_against(plan(), traffic({kFast, {6, 0x30, 1, 50}}, {kState})) ==
        std::vector<std::string>{kShares,
                                 "the write of 1 register to soak-heater at 0x0030 (40049) came every 2 s on "
                                 "average, and the plan has it every 1 s"});
  CHECK(review_against(plan(), traffic({kFast, {6, 0x30, 1, 400}}, {kState})).size() == 2);
  CHECK(review_against(plan(), traffic({kFast, {6, 0x30, 1, 400}}, {kState}))[1].find("came every 0.25 s") !=
        std::string::npos);
}

TEST_CASE("after a few requests a share of the line's time is told that says nothing") {
  auto review = traffic({kFast, kSetpoint}, {kState});
  auto& line = review.lines[0];
  line.requests = 3;
  line.time_share = 1.0;
  line.time_used = 40ms;
  CHECK(review_against(plan(), review)[0] ==
        "the plan takes 6.7 % of field's time; what came, came in too short a time to tell its share");
  line.time_share = 0.5;
  line.time_used = 4s;  // within 8 s
  CHECK(review_against(plan(), review)[0] == "the plan takes 6.7 % of field's time, what came took 50 %");
}

TEST_CASE("a block that was cut otherwise is told with its parts, once") {
  const auto sentences =
      review_against(plan(), traffic({{3, 0x41, 1, 200}, {3, 0x47, 2, 1}, kSetpoint}, {kState}));
  CHECK(sentences ==
        std::vector<std::string>{
            kShares,
            "the read of 8 registers of soak-heater from 0x0041 (40066) came cut otherwise: 1 from 0x0041 "
            "(40066), 200 times; 2 from 0x0047 (40072), once"});
}

TEST_CASE("several masters count together, other lines do not, and silence is said") {
  auto review = traffic({{3, 0x41, 8, 100}, kSetpoint}, {kState});
  review.pairs.push_back(pair(1, "soak-heater", {{3, 0x41, 8, 100}}));
  review.pairs.back().master = "panel";
  review.pairs.push_back(pair(1, "soak-heater", {{3, 0x30, 1, 100}}));
  review.pairs.back().line = "ethernet";
  CHECK(review_against(plan(), review).size() == 2);
  CHECK(review_against(plan(), {}) ==
        std::vector<std::string>{"nothing came over field, and the plan takes 6.7 % of its time"});
  // Over less than a second no rate can be told.
  auto quick = traffic({{3, 0x41, 8, 2}, kSetpoint}, {{3, 0x41, 1, 1}});
  for (auto& one : quick.pairs) one.per_second = 0.0;
  CHECK(review_against(plan(), quick).size() == 2);
}
