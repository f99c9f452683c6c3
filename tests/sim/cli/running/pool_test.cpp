#include <atomic>
#include <stdexcept>
#include <string>
#include <thread>
#include <vector>

#include <doctest/doctest.h>

#include "sim/cli/rehearse_console.hpp"
#include "sim/cli/rehearse_plan.hpp"
#include "sim/cli/rehearse_pool.hpp"
#include "sim/cli/stopping.hpp"

using namespace emberline;
using namespace emberline::cli;

TEST_CASE("results come in the order of the list although the first job ends last") {
  for (const std::size_t workers : {1U, 2U, 3U, 8U}) {
    constexpr std::size_t kJobs = 20;
    std::vector<int> ran(kJobs, 0);
    std::vector<std::size_t> told;
    std::atomic<std::size_t> finished{0};
    std::vector<std::size_t> busy(workers, 0);
    run_pool(
        kJobs, workers,
        [&](std::size_t job, std::size_t worker) {
          REQUIRE(worker < workers);
          ++busy[worker];
          // The first waits for all but those that this worker would have to run itself.
          while (job == 0 && workers > 1 && finished < kJobs - 1) std::this_thread::yield();
          ++ran[job];
          ++finished;
        },
        [&](std::size_t job) { told.push_back(job); });
    REQUIRE(told.size() == kJobs);
    for (std::size_t job = 0; job < kJobs; ++job) {
      CHECK(told[job] == job);
      CHECK(ran[job] == 1);
    }
  }
}

TEST_CASE("a job that throws ends the run where it was called, and no further job begins") {
  for (const std::size_t workers : {1U, 2U, 4U}) {
    CAPTURE(workers);
    std::atomic<int> began{0};
    std::vector<std::size_t> told;
    const auto run = [&](std::size_t job, std::size_t) {
      ++began;
      if (job == 3) throw std::runtime_error("no");
    };
    CHECK_THROWS_AS(run_pool(10'000, workers, run, [&](std::size_t job) { told.push_back(job); }),
                    std::runtime_error);
    if (workers == 1) CHECK(began == 4);
    CHECK(told.size() <= 3);
  }
}

TEST_CASE("no jobs, no threads, no end of waiting") {
  run_pool(
      0, 4, [](std::size_t, std::size_t) { FAIL("nothing to run"); },
      [](std::size_t) { FAIL("nor to tell"); });
}

TEST_CASE("shards share the list out: every rehearsal is in exactly one, and the same one every time") {
  for (const std::uint64_t of : {1U, 2U, 3U, 5U, 7U, 12U, 40U}) {
    std::vector<int> seen(4 * 3, 0);
    for (std::uint64_t number = 1; number <= of; ++number) {
      const auto part = listed_rehearsals(4, 10, 3, {number, of});
      // Never more than one longer than another.
      CHECK(part.size() >= 12 / of);
      CHECK(part.size() <= 12 / of + 1);
      std::size_t place_before = 0;
      for (const auto& planned : part) {
        const std::size_t place = planned.scenario * 3 + (planned.seed - 10);
        CHECK(place % of == number - 1);
        CHECK(place + 1 > place_before);
        place_before = place + 1;
        ++seen[place];
      }
    }
    for (const int times : seen) CHECK(times == 1);
  }
}

TEST_CASE("a shard is read as written, and nonsense is refused") {
  const auto shard = parse_shard("2/5");
  REQUIRE(shard);
  CHECK(shard->number == 2);
  CHECK(shard->of == 5);
  for (const char* text : {"6/5", "0/3", "x", "", "/", "1/", "/2", "1/0", "0/0", "-1/3", "+1/3", "1/3/4",
                           "1 / 3", "1.0/3", "1/99999", "18446744073709551616/3"}) {
    CAPTURE(text);
    const auto refused = parse_shard(text);
    REQUIRE_FALSE(refused);
    CHECK(refused.error().find("expected K/N") != std::string::npos);
    CHECK(refused.error().find("'" + std::string(text) + "'") != std::string::npos);
  }
}

TEST_CASE("the line of progress fits its terminal, tears no character and leaves the last column free") {
  CHECK(progress_line(3, 12, 0, {}, 80) == "3/12 done");
  CHECK(progress_line(3, 12, 1, {"a", "b"}, 80) == "3/12 done, 1 failed; running: a, b");
  const auto cut = progress_line(3, 12, 1, {"a-very-long-name-of-a-story"}, 30);
  CHECK(cut == "3/12 done, 1 failed; runni...");
  CHECK(cut.size() == 29);
  // Two bytes each in UTF-8 (RFC 3629, 3): fewer characters than bytes.
  CHECK(progress_line(3, 12, 0, {"\xc3\xa4\xc3\xb6\xc3\xbc\xc3\xa4\xc3\xb6\xc3\xbc\xc3\xa4"}, 27) ==
        "3/12 done; running: \xc3\xa4\xc3\xb6\xc3\xbc...");
  CHECK(progress_line(3, 12, 0, {}, 3).size() <= 3);
}

TEST_CASE("who starts to listen after the stop was asked for hears of it all the same, and nobody twice") {
  Stopping stopping;
  int first = 0;
  int second = 0;
  {
    const Stopping::Hook hook(stopping, [&] { ++first; });
    CHECK_FALSE(stopping.asked());
    std::thread([&] { stopping.ask(); }).join();
    CHECK(stopping.asked());
    CHECK(first == 1);
    const Stopping::Hook late(stopping, [&] { ++second; });
    CHECK(second == 1);
  }
  stopping.ask();  // nobody is there any more
  CHECK(first == 1);
}
