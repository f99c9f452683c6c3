#include <chrono>
#include <cstdio>
#include <cstdlib>
#include <ctime>

#include "sim/io/files/load.hpp"
#include "sim/io/master/stepped_masters.hpp"
#include "sim/rehearsal/rehearsal.hpp"
#include "tests/bench/speed.hpp"

namespace emberline::speed {
namespace {

struct Took {
  double seconds = 0.0;
  double processor_seconds = 0.0;  ///< of all threads
  std::uint64_t transactions = 0;
};

double processor_seconds() { return static_cast<double>(std::clock()) / CLOCKS_PER_SEC; }

Took run(const rehearsal::ScenarioSpec& story, bool with_masters) {
  rehearsal::Rehearsal rehearsal(story, 1, {});
  auto& loop = rehearsal.loop();
  io::SteppedMasters masters(rehearsal.bench(), story.masters);
  if (with_masters) {
    loop.add(bench::Rank::frames, masters.wire());
    loop.add(bench::Rank::stand_ins, masters.stand_ins());
  }
  const auto start = std::chrono::steady_clock::now();
  const double processor_start = processor_seconds();
  loop.run_through(story.ends);
  const std::chrono::duration<double> took = std::chrono::steady_clock::now() - start;
  const double processor = processor_seconds() - processor_start;
  masters.finish();
  return {took.count(), processor, masters.transactions()};
}

}  // namespace

void story_speed() {
  const auto story = io::load_scenario(EMBERLINE_SOURCE_DIR "/tests/bench/eight-hours.yaml");
  if (!story) {
    for (const auto& problem : story.error()) std::fprintf(stderr, "%s\n", to_text(problem).c_str());
    std::exit(1);
  }
  std::printf("\nA story: %s\n", story->title.c_str());
  for (int round = 1; round <= 3; ++round) {
    const auto alone = run(*story, false);
    const auto all = run(*story, true);
    const auto each_us = [&](double seconds) {
      return seconds * 1e6 / static_cast<double>(all.transactions);
    };
    std::printf(
        "  run %d: %llu transactions in %.2f s, %.1f us each; %.2f s of the processors, %.1f us each "
        "(%.2f s when nobody asks)\n",
        round, static_cast<unsigned long long>(all.transactions), all.seconds, each_us(all.seconds),
        all.processor_seconds, each_us(all.processor_seconds), alone.processor_seconds);
  }
}

}  // namespace emberline::speed
