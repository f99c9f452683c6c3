#include <string>
#include <vector>

#include <doctest/doctest.h>

#include "tests/support/small_story.hpp"

using emberline::testing::read_file;
using emberline::testing::run_emberline;
using emberline::testing::run_on_terminal;
using emberline::testing::SmallStory;
using emberline::testing::TemporaryFolder;

namespace {

std::size_t lines_in(const std::string& text) {
  std::size_t count = 0;
  for (const char c : text) count += c == '\n' ? 1 : 0;
  return count;
}

/// Half of the requests are lost: whether the unit misses its master for 3 s is a matter of chance.
std::string by_chance(const SmallStory& story) {
  return story.write("flaky.yaml", "By chance",
                     "ends: 30 s\n"
                     "masters: { plc: { lines: [field], timeout: 1 s, program: [ { at: 0 s, write: { "
                     "heater.setpoint: 50 % } }, { every: 1 s, read: [heater.state] } ] } }\n"
                     "timeline: [ { at: 1 s, drop_requests: field, share: 35 % } ]\n"
                     "expect: [ { name: never missed, never: { heater.state: inhibited } } ]\n");
}

}  // namespace

TEST_CASE(
    "repeats find the seeds that fail, each is its own suite, and the command given repeats one of them") {
  const TemporaryFolder folder;
  const SmallStory story(folder);
  const auto file = by_chance(story);
  const auto hunt = run_emberline({"rehearse", file, "--repeat", "12", "--seed-from", "100", "-j", "2",
                                   "--junit", folder.file("hunt.xml"), "--json", folder.file("hunt.json")});
  CHECK_MESSAGE(hunt.status == 1, (hunt.out + hunt.err));
  const auto at = hunt.out.find("failed with seed");
  REQUIRE_MESSAGE(at != std::string::npos, hunt.out);
  // Some do and some do not, or there is nothing to hunt.
  CHECK(hunt.out.find("0 of 12 rehearsals passed") == std::string::npos);
  const auto command_at = hunt.out.find("emberline rehearse ", at);
  REQUIRE(command_at != std::string::npos);
  const auto command = hunt.out.substr(command_at, hunt.out.find('\n', command_at) - command_at);
  const std::string head = "emberline rehearse " + file + " --seed ";
  REQUIRE(command.rfind(head, 0) == 0);
  const auto seed = command.substr(head.size());
  CHECK(std::stoi(seed) >= 100);
  CHECK(std::stoi(seed) < 112);
  const auto again = run_emberline({"rehearse", file, "--seed", seed});
  CHECK(again.status == 1);
  const auto xml = read_file(folder.file("hunt.xml"));
  for (int number = 100; number < 112; ++number) {
    const auto title = "By chance (seed " + std::to_string(number) + ")";
    CHECK(xml.find("name=\"" + title + "\"") != std::string::npos);
    const auto passed = hunt.out.find("PASSED  " + title) != std::string::npos;
    CHECK(run_emberline({"rehearse", file, "--seed", std::to_string(number)}).status == (passed ? 0 : 1));
  }
  const auto alone = run_emberline(
      {"rehearse", file, "--repeat", "12", "--seed-from", "100", "--json", folder.file("alone.json")});
  CHECK(alone.status == 1);
  CHECK(read_file(folder.file("alone.json")) == read_file(folder.file("hunt.json")));
}

TEST_CASE("many failing seeds are counted, not all listed") {
  const TemporaryFolder folder;
  const SmallStory story(folder);
  const auto run = run_emberline({"rehearse", story.stepped("bad.yaml", "Bad", false), "--repeat", "25"});
  CHECK(run.status == 1);
  CHECK_MESSAGE(
      run.out.find("failed with seeds 1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 12, 13, 14, 15, 16, 17, 18, 19, "
                   "20 and 5 more\n") != std::string::npos,
      run.out);
  CHECK(run.out.find("0 of 25 rehearsals passed") != std::string::npos);
  // The first is told of in full, the others in their sentence.
  CHECK(run.out.find("expectations met in") == run.out.rfind("expectations met in"));
}

TEST_CASE("the parts of a run in shards are the whole run, and an empty one passes with a word") {
  const TemporaryFolder folder;
  const SmallStory story(folder);
  const auto one = story.stepped("one.yaml", "One");
  const auto two = story.stepped("two.yaml", "Two");
  std::vector<std::string> found;
  for (const char* shard : {"1/3", "2/3", "3/3"}) {
    const auto part = run_emberline({"rehearse", one, two, "--repeat", "2", "--shard", shard});
    CHECK_MESSAGE(part.status == 0, part.err);
    for (const char* title : {"One (seed 1)", "One (seed 2)", "Two (seed 1)", "Two (seed 2)"})
      if (part.out.find("PASSED  " + std::string(title)) != std::string::npos) found.emplace_back(title);
  }
  CHECK(found == std::vector<std::string>{"One (seed 1)", "Two (seed 2)", "One (seed 2)", "Two (seed 1)"});
  const auto empty = run_emberline({"rehearse", one, two, "--shard", "3/3", "--json",
                                    folder.file("none.json"), "--junit", folder.file("none.xml")});
  CHECK(empty.status == 0);
  CHECK(empty.out.find("shard 3/3 holds none of the 2 rehearsals") == 0);
  CHECK(read_file(folder.file("none.xml")).find("tests=\"0\"") != std::string::npos);
  CHECK(read_file(folder.file("none.json")).size() > 10);
}

TEST_CASE("what cannot be asked of a run is refused in one line before anything runs") {
  const TemporaryFolder folder;
  const SmallStory story(folder);
  const auto file = story.stepped("story.yaml", "Story");
  const auto wall = story.write(
      "wall.yaml", "Wall", "clock: wall\nends: 1 s\n" + SmallStory::master() + SmallStory::expects_half());
  struct Case {
    std::vector<std::string> words;
    std::string says;
  };
  for (const auto& [words, says] : std::vector<Case>{
           {{file, "--shard", ""}, "--shard: expected a value, found ''"},
           {{file, "--repeat", ""}, "--repeat: expected a value"},
           {{file, "--repeat", "2", "--seed-from", ""}, "--seed-from: expected a value"},
           {{file, "--json", ""}, "--json: expected a value"},
           {{file, "--junit", ""}, "--junit: expected a value"},
           {{file, "--report", ""}, "--report: expected a value"},
           {{file, "--trends", ""}, "--trends: expected a value"},
           {{file, "--capture", ""}, "--capture: expected a value"},
           {{file, "--save-state", ""}, "--save-state: expected a value"},
           {{file, "--shard", "1/1", "--capture", folder.file("c.pcapng")},
            "--capture: goes not with --shard"},
           {{file, "--shard", "1/1", "--save-state", folder.file("s")},
            "--save-state: goes not with --shard"},
           {{file, "--shard", "6/5"}, "--shard: expected K/N"},
           {{file, "--shard", "0/3"}, "found '0/3'"},
           {{file, "--shard", "x"}, "found 'x'"},
           {{file, "--repeat", "0"}, "--repeat: expected a whole number from 1"},
           {{file, "--repeat", "many"}, "found 'many'"},
           {{file, "--repeat", "3", "--seed", "2"}, "goes not with --seed"},
           {{file, "--seed-from", "2"}, "--seed-from: is the first seed of --repeat"},
           {{file, "--repeat", "3", "--seed-from", "18446744073709551614"}, "--seed-from: expected"},
           {{file, "-j", "1000"}, "-j: expected"},
           {{file, "-j", "2", "--real-master"}, "-j: goes not with --real-master"},
           {{file, "-j", "--capture", folder.file("c.pcapng")}, "-j: goes not with --capture"},
           {{wall, "-j", "2", "--by-hand"}, "-j: goes not with --by-hand"},
           {{file, file, "--capture", folder.file("c.pcapng")},
            "--capture: a capture is of one rehearsal, found 2"},
           {{file, "--repeat", "2", "--save-state", folder.file("s")},
            "--save-state: a state is of one rehearsal"},
           {{file, "--by-hand"}, "'Story' runs in stepped time, which waits for no human"},
           {{wall, "--by-hand"}, "no entry of the timeline has 'ask'"},
           {{file, "--plant-speed", "2"}, "--plant-speed is for the wall clock"},
           {{file, "--wait-for-master", "5 s"}, "--wait-for-master: is for --real-master"},
           {{file, "--real-master", "--wait-for-master", "5"}, "--wait-for-master: '5' has no unit"},
           {{file, "--real-master", "--wait-for-master", "-1 s"}, "--wait-for-master: expected 0 s"},
       }) {
    CAPTURE(says);
    auto all = words;
    all.insert(all.begin(), "rehearse");
    const auto run = run_emberline(all);
    CHECK(run.status == 2);
    CHECK(run.out == "");
    CHECK_MESSAGE(lines_in(run.err) == 1, run.err);
    CHECK_MESSAGE(run.err.find(says) != std::string::npos, run.err);
  }
}

TEST_CASE("progress is rewritten on a terminal, and nowhere else") {
  const TemporaryFolder folder;
  const SmallStory story(folder);
  std::vector<std::string> words{"rehearse"};
  for (int i = 0; i < 4; ++i)
    words.push_back(
        story.stepped("story-" + std::to_string(i) + ".yaml", "Story " + std::to_string(i), i != 1));
  const auto seen = run_on_terminal(words, "xterm", 60);
  CHECK(seen.status == 1);
  CHECK_MESSAGE(seen.out.find("\r\x1b[K0/4 done; running: story-0") != std::string::npos, seen.out);
  CHECK(seen.out.find("\r\x1b[K2/4 done, 1 failed; running: story-2") != std::string::npos);
  CHECK(seen.out.find("\x1b[32mPASSED\x1b[0m  Story 0") != std::string::npos);
  // The line is gone when all is done, and nothing is left behind it.
  CHECK(seen.out.find("done", seen.out.find("3 of 4 rehearsals passed")) == std::string::npos);
  const auto plain = run_on_terminal(words, "dumb", 60);
  CHECK(plain.out.find('\x1b') == std::string::npos);
  CHECK(plain.out.find("/4 done") == std::string::npos);
  CHECK(run_emberline(words).out.find("/4 done") == std::string::npos);
  // A single rehearsal has its report, and no progress.
  const auto single = run_on_terminal({"rehearse", words.back()}, "xterm", 60);
  CHECK(single.out.find("1/1") == std::string::npos);
}
