#include <cstring>
#include <string>
#include <utility>
#include <vector>

#include <arpa/inet.h>
#include <doctest/doctest.h>
#include <netinet/in.h>
#include <signal.h>
#include <sys/socket.h>
#include <time.h>
#include <unistd.h>

#include "tests/support/process.hpp"
#include "tests/support/small_story.hpp"

using emberline::testing::Background;
using emberline::testing::read_file;
using emberline::testing::run_emberline;
using emberline::testing::SmallStory;
using emberline::testing::TemporaryFolder;

namespace {

bool has(const std::string& text, const std::string& part) { return text.find(part) != std::string::npos; }

/// What a panel on this port answers, head and body; empty if nobody does.
std::string ask(int port, const std::string& request) {
  const int socket = ::socket(AF_INET, SOCK_STREAM, 0);
  sockaddr_in address{};
  address.sin_family = AF_INET;
  address.sin_port = htons(static_cast<std::uint16_t>(port));
  address.sin_addr.s_addr = htonl(INADDR_LOOPBACK);
  std::string answer;
  if (::connect(socket, reinterpret_cast<const sockaddr*>(&address), sizeof address) == 0 &&
      ::send(socket, request.data(), request.size(), MSG_NOSIGNAL) == static_cast<ssize_t>(request.size())) {
    char buffer[4096];
    for (ssize_t got = 0; (got = ::recv(socket, buffer, sizeof buffer, 0)) > 0;)
      answer.append(buffer, static_cast<std::size_t>(got));
  }
  ::close(socket);
  return answer;
}

/// A story with two steps in a folder of its own, opened as a lesson.
struct Opened {
  explicit Opened(std::vector<std::string> further = {})
      : story(folder),
        file(story.write("lesson.yaml", "A short lesson",
                         "why: To see it walk.\n"
                         "ends: 20 s\n" +
                             SmallStory::master() +
                             "timeline: [ { at: 5 s, cut: field, name: pulled } ]\n"
                             "expect: [ { name: latches, after: { entry: pulled }, within: 6 s, "
                             "that: { heater.state: inhibited } } ]\n"
                             "lesson:\n"
                             "  - { title: Cable, say: It is pulled., question: What then, "
                             "answers: [Nothing, It latches], right: 2, because: Nobody asks., "
                             "does: pulled, button: Pull it, until: { heater.state: inhibited }, "
                             "within: 30 s }\n"
                             "  - { title: The end, say: That was all. }\n")),
        ready(folder.file("ready.json")),
        running(arguments(std::move(further))) {}

  [[nodiscard]] std::vector<std::string> arguments(std::vector<std::string> further) const {
    std::vector<std::string> all{"lesson", file, "--panel", "127.0.0.1:0", "--ready-file", ready};
    all.insert(all.end(), further.begin(), further.end());
    return all;
  }
  [[nodiscard]] bool is_ready() const { return running.wait_for_file(ready); }
  [[nodiscard]] int port() const {
    const auto json = read_file(ready);
    const std::string key = "\"panel\":\"http://127.0.0.1:";
    const auto at = json.find(key);
    return at == std::string::npos ? 0 : std::stoi(json.substr(at + key.size()));
  }
  [[nodiscard]] std::string get(const std::string& path) const {
    return ask(port(), "GET " + path + " HTTP/1.1\r\nHost: localhost\r\nConnection: close\r\n\r\n");
  }
  [[nodiscard]] std::string post(const std::string& word) const {
    return ask(port(),
               "POST /api/lesson HTTP/1.1\r\nHost: localhost\r\nContent-Type: application/json\r\n"
               "Connection: close\r\nContent-Length: " +
                   std::to_string(word.size()) + "\r\n\r\n" + word);
  }
  /// Asks until the answer holds `text`, for a minute at most.
  template <class Asking>
  [[nodiscard]] static bool until(Asking&& asking, const std::string& text) {
    for (int i = 0; i < 1200; ++i) {
      if (has(asking(), text)) return true;
      const timespec pause{0, 50'000'000};
      ::nanosleep(&pause, nullptr);
    }
    return false;
  }
  [[nodiscard]] bool until(const std::string& text) const {
    return until([this] { return get("/api/lesson"); }, text);
  }

  TemporaryFolder folder;
  SmallStory story;
  std::string file, ready;
  Background running;
};

}  // namespace

TEST_CASE("a lesson is not walked through over its panel, or Ctrl-C does not end it well") {
  Opened lesson;
  REQUIRE(lesson.is_ready());
  CHECK(has(read_file(lesson.ready), "\"control\":null"));
  const auto first = lesson.get("/api/lesson");
  CHECK_MESSAGE(first.starts_with("HTTP/1.1 200"), first);
  CHECK(has(first, "\"title\":\"A short lesson\",\"why\":\"To see it walk.\",\"place\":1,\"of\":2"));
  CHECK(has(first, "\"right\":null"));
  const auto early = lesson.post(R"({"go":"next"})");
  CHECK_MESSAGE(early.starts_with("HTTP/1.1 422"), early);
  CHECK(has(early, "first a prediction"));
  // Without a first request nothing is missed when the cable is pulled.
  REQUIRE(lesson.until([&] { return lesson.get("/api/journal"); }, "watchdog armed"));
  CHECK(lesson.post(R"({"go":"predict","answer":2})").starts_with("HTTP/1.1 200"));
  CHECK(lesson.post(R"({"go":"next"})").starts_with("HTTP/1.1 200"));
  REQUIRE(lesson.until("\"phase\":\"told\""));
  const auto told = lesson.get("/api/lesson");
  CHECK_MESSAGE(has(told, "cable pulled"), told);
  CHECK_MESSAGE(has(told, "\"right\":2"), told);
  CHECK(lesson.post(R"({"go":"next"})").starts_with("HTTP/1.1 200"));
  CHECK(lesson.post(R"({"go":"next"})").starts_with("HTTP/1.1 200"));
  REQUIRE_MESSAGE(lesson.until("\"passed\":true"), lesson.get("/api/lesson"));
  const auto stopped = lesson.running.stop(SIGINT);
  CHECK(stopped.status == 0);
  CHECK_MESSAGE(read_file(lesson.ready).empty(), "the ready file has stayed");
  CHECK_MESSAGE(stopped.err.empty(), stopped.err);
  CHECK_MESSAGE(has(stopped.out, "A short lesson: a lesson of 2 steps\n  panel: http://127.0.0.1:"),
                stopped.out);
  CHECK_MESSAGE(has(stopped.out,
                    "The lesson is through: 1 of 1 predictions right\n"
                    "PASSED  1 of 1 expectations met\n"),
                stopped.out);
}

TEST_CASE("a lesson that starts over goes on with the old bench, or cannot be stopped in the middle") {
  Opened lesson;
  REQUIRE(lesson.is_ready());
  const auto port = lesson.port();
  CHECK(lesson.post(R"({"go":"predict","answer":1})").starts_with("HTTP/1.1 200"));
  CHECK(lesson.post(R"({"go":"next"})").starts_with("HTTP/1.1 200"));
  REQUIRE(lesson.until("cable pulled"));
  CHECK(lesson.post(R"({"go":"restart"})").starts_with("HTTP/1.1 200"));
  CHECK(has(lesson.get("/api/lesson"), "\"chosen\":null"));
  REQUIRE(Opened::until([&] { return lesson.post(R"({"go":"predict","answer":2})"); }, "HTTP/1.1 200"));
  CHECK(lesson.port() == port);  // the page stays where it was
  REQUIRE(Opened::until([&] { return lesson.get("/api/state"); }, "\"name\":\"field\",\"state\":\"normal\""));
  const auto stopped = lesson.running.stop(SIGTERM);
  CHECK(stopped.status == 0);
  CHECK_MESSAGE(has(stopped.out, "Stopped at step 1 of 2: nothing was predicted\nNo verdict"), stopped.out);
}

TEST_CASE("a lesson with a real master leaves no line open for it, or a blind one begins with open eyes") {
  Opened lesson({"--real-master", "--blind"});
  REQUIRE(lesson.is_ready());
  REQUIRE(lesson.running.wait_for_output("  field: your master connects to " + lesson.story.link + "\n"));
  CHECK(has(lesson.get("/api/state"), "\"blind\":true"));
  const auto written = run_emberline(
      {"write", "--bench", lesson.folder.file("bench.yaml"), "field", "heater", "setpoint=50 %"});
  CHECK_MESSAGE(written.status == 0, written.err);
  CHECK(lesson.running.stop(SIGINT).status == 0);
}

TEST_CASE("a real master does not find its line again after the lesson has started over") {
  Opened lesson({"--real-master"});
  REQUIRE(lesson.is_ready());
  const auto place = [&lesson] {
    const auto bench = lesson.get("/api/bench");
    const auto at = bench.find("\"place\":\"127.0.0.1:");
    return at == std::string::npos ? std::string() : bench.substr(at, 24);
  };
  const auto before = place();
  REQUIRE_FALSE(before.empty());
  CHECK(lesson.post(R"({"go":"restart"})").starts_with("HTTP/1.1 200"));
  REQUIRE(Opened::until([&] { return lesson.post(R"({"go":"predict","answer":2})"); }, "HTTP/1.1 200"));
  CHECK(place() == before);
  CHECK(lesson.running.stop(SIGINT).status == 0);
}

TEST_CASE("a lesson that cannot be opened ends with another status than its reason asks for") {
  Opened lesson;
  REQUIRE(lesson.is_ready());
  struct Row {
    std::vector<std::string> further;
    int status;
    const char* words;
  };
  const auto bench = lesson.folder.file("bench.yaml");
  const Row rows[] = {
      {{"lesson", "/missing.yaml"}, 2, "/missing.yaml"},
      {{"lesson", bench}, 2, "this is a bench, expected a scenario"},
      {{"lesson", lesson.file, "--panel", "off"}, 2, "expected --panel [HOST:]PORT"},
      {{"lesson", lesson.file, "--panel", "0.0.0.0:0"}, 2, "--panel-token"},
      {{"lesson", lesson.file, "--seed", "some"}, 2, "seed"},
      {{"lesson", lesson.file, "--panel", "127.0.0.1:" + std::to_string(lesson.port())}, 3, "127.0.0.1"},
      {{"lesson", lesson.file, "--panel", "127.0.0.1:0", "--ready-file", "/missing/ready.json"},
       3,
       "/missing/ready.json"},
  };
  for (const auto& row : rows) {
    CAPTURE(row.words);
    const auto ended = run_emberline(row.further);
    CHECK(ended.status == row.status);
    CHECK_MESSAGE(has(ended.err, row.words), ended.err);
  }
}
