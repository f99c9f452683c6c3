#include <chrono>
#include <string>
#include <vector>

#include <doctest/doctest.h>
#include <signal.h>

#include "tests/support/process.hpp"
#include "tests/support/small_story.hpp"

using emberline::testing::Background;
using emberline::testing::read_file;
using emberline::testing::run_emberline;
using emberline::testing::SmallStory;
using emberline::testing::TemporaryFolder;

namespace {

/// A bench whose line is cut.
struct Cut {
  Cut()
      : running({"serve", bench, "--panel", "off", "--control", control, "--ready-file",
                 folder.file("ready.json")}) {
    REQUIRE(running.wait_for_file(folder.file("ready.json")));
    const auto ready = read_file(folder.file("ready.json"));
    const auto port = ready.find("\"port\":");
    REQUIRE(port != std::string::npos);
    place = "127.0.0.1:" + std::to_string(std::stoi(ready.substr(port + 7)));
    tell("cut ethernet");
  }
  [[nodiscard]] std::vector<std::string> write(std::vector<std::string> more) const {
    std::vector<std::string> words{"write", "--bench", bench, place, "heater", "setpoint=50 %"};
    words.insert(words.end(), more.begin(), more.end());
    return words;
  }
  std::string tell(const std::string& words) const {
    const auto told = run_emberline({"tell", control, words});
    REQUIRE_MESSAGE(told.status == 0, told.err);
    return told.out;
  }
  TemporaryFolder folder;
  SmallStory small{folder};
  std::string bench = folder.file("bench.yaml");
  std::string control = folder.file("control.sock");
  std::string place;
  Background running;
};

}  // namespace

TEST_CASE("write --every makes up in a burst for what fell due while nobody answered") {
  using namespace std::chrono_literals;
  const Cut cut;
  Background writing(cut.write({"--every", "20 ms", "--timeout", "100 ms"}));
  // Two seconds of it, in which a hundred writes fall due.
  CHECK(run_emberline({"read", "--bench", cut.bench, cut.place, "heater", "state", "--timeout", "2 s"})
            .status == 3);
  const auto back = std::chrono::steady_clock::now();
  cut.tell("restore ethernet");
  constexpr int kWrites = 41;
  REQUIRE(writing.wait_for_output("written", kWrites));
  // The first two may come one upon the other: the one that was under way, and the next.
  CHECK(std::chrono::steady_clock::now() - back >= (kWrites - 2) * 20ms);
  CHECK(writing.stop(SIGINT).status == 0);
}

TEST_CASE("Ctrl-C does not end a write that waits for its answer") {
  const Cut cut;
  cut.tell("restore ethernet");
  cut.tell("drop_answers ethernet share 100 %");
  Background writing(cut.write({"--timeout", "600 s"}));
  int looks = 0;
  while (cut.tell("traffic").find("ethernet: 1 request") == std::string::npos && looks < 10'000) ++looks;
  REQUIRE(looks < 10'000);
  CHECK(writing.stop(SIGINT).status == 128 + SIGINT);
}
