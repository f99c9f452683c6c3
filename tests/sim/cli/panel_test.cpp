#include <algorithm>
#include <filesystem>
#include <string>
#include <vector>

#include <doctest/doctest.h>
#include <signal.h>
#include <sys/stat.h>

#include "tests/support/process.hpp"

using emberline::testing::Background;
using emberline::testing::read_file;
using emberline::testing::run_emberline;
using emberline::testing::TemporaryFolder;

namespace {

const std::string kSource = EMBERLINE_SOURCE_DIR;

/// A small bench with a place of its own for everything.
struct Small {
  explicit Small(const std::string& panel = "panel: 127.0.0.1:0\n")
      : bench(folder.write(
            "bench.yaml",
            "bench: Small\n" + panel +
                "supply: { system: single-phase, voltage: 230 V, frequency: 50 Hz }\n"
                "lines:\n"
                "  desk: { tcp: 127.0.0.1:0 }\n"
                "zones:\n"
                "  box: { mass: 5 kg, specific_heat: 900 J/kgK, loss: 2 W/K, ambient: 25 degC, start: "
                "60 degC }\n"
                "units:\n"
                "  heater:\n"
                "    id: 1\n"
                "    lines: [desk]\n"
                "    registers: " +
                kSource +
                "/config/registers/short-blocks.yaml\n"
                "    rating: { voltage: 230 V, current: 16 A }\n"
                "    firing: { mode: phase-angle }\n"
                "    control: { variable: open-loop }\n"
                "    comms_loss: { timeout: 5 s, policy: hold-last-command }\n"
                "    load: { cold_resistance: 20 ohm, heats: box }\n")),
        control(folder.file("control.sock")),
        ready(folder.file("ready.json")) {}
  [[nodiscard]] std::vector<std::string> arguments(const std::vector<std::string>& further = {}) const {
    std::vector<std::string> all{"serve", bench, "--control", control, "--ready-file", ready};
    all.insert(all.end(), further.begin(), further.end());
    return all;
  }
  /// The panel's address in the ready file; empty if there is none.
  [[nodiscard]] std::string url() const {
    const auto json = read_file(ready);
    const auto at = json.find("\"panel\":\"");
    return at == std::string::npos ? "" : json.substr(at + 9, json.find('"', at + 9) - at - 9);
  }
  /// A file that only we can read.
  [[nodiscard]] std::string secret(const std::string& name, const std::string& text) const {
    const auto file = folder.write(name, text);
    ::chmod(file.c_str(), 0600);
    return file;
  }
  TemporaryFolder folder;
  std::string bench, control, ready;
};

constexpr const char* kTrainer = "trainer-token-0123456789";
constexpr const char* kWatcher = "watcher-token-0123456789";

bool has(const std::string& text, const std::string& part) { return text.find(part) != std::string::npos; }

}  // namespace

TEST_CASE("a bench is told and watched over its panel as over its socket") {
  const Small small;
  Background running(small.arguments());
  REQUIRE(running.wait_for_file(small.ready));
  const auto url = small.url();
  REQUIRE(url.starts_with("http://127.0.0.1:"));
  REQUIRE(running.wait_for_output("  panel: " + url + "\n"));

  const auto asked = run_emberline({"tell", small.control, "panel"});
  CHECK(asked.status == 0);
  CHECK(asked.out == "ok " + url + "\n");
  CHECK(run_emberline({"tell", url, "--ping"}).out == "pong\n");
  CHECK(run_emberline({"tell", url + "class", "panel"}).out == "ok " + url + "\n");
  // With the path of a page behind it, as one copies it from a browser.
  for (const auto& where :
       {url, url + "class", url.substr(0, url.size() - 1) + "?view=class#x", small.control}) {
    const auto watched = run_emberline({"watch", where, "--once"});
    CHECK_MESSAGE(watched.status == 0, watched.err);
    CHECK_MESSAGE(has(watched.out, "heater (heats box)"), watched.out);
    CHECK_MESSAGE(has(watched.out, " running "), watched.out);
    CHECK_MESSAGE(has(watched.out, " degC\n"), watched.out);
  }
  const auto cut = run_emberline({"tell", url, "cut", "desk"});
  CHECK_MESSAGE(cut.status == 0, cut.err);
  CHECK(cut.out == "ok cut desk\n");
  // What was understood, whichever way it came.
  CHECK(run_emberline({"tell", url, "cut  desk for 60000 ms"}).out ==
        run_emberline({"tell", small.control, "cut  desk for 60000 ms"}).out);
  const auto watched = run_emberline({"watch", url, "--once"});
  CHECK_MESSAGE(has(watched.out, "  desk is cut\n"), watched.out);
  const auto misspelt = run_emberline({"tell", url, "restore dsek"});
  CHECK(misspelt.status == 2);
  CHECK_MESSAGE(has(misspelt.err, "did you mean 'desk'"), misspelt.err);
  const auto traffic = run_emberline({"tell", url, "traffic"});
  CHECK_MESSAGE(traffic.status == 0, traffic.err);
  CHECK(traffic.out.starts_with("ok traffic so far\n"));

  Background watching({"watch", url, "--every", "100 ms"});
  REQUIRE(watching.wait_for_output("desk is cut", 3));
  CHECK(watching.stop(SIGINT).status == 0);
  Background left({"watch", url, "--every", "100 ms"});
  REQUIRE(left.wait_for_output("desk is cut"));
  CHECK(running.stop(SIGTERM).status == 0);
  const auto ended = left.wait();
  CHECK(ended.status == 3);
  CHECK_MESSAGE(has(ended.err, "emberline: " + url + ": "), ended.err);
  const auto gone = run_emberline({"tell", url, "restore desk"});
  CHECK(gone.status == 3);
  CHECK_MESSAGE(has(gone.err, url + ": nobody there"), gone.err);
}

TEST_CASE("a panel can be off, by the bench and by the command line, which wins") {
  {
    const Small small("panel: off\n");
    Background running(small.arguments());
    REQUIRE(running.wait_for_file(small.ready));
    CHECK(has(read_file(small.ready), "\"panel\":null"));
    CHECK(!running.said("panel: "));
    const auto asked = run_emberline({"watch", small.control, "--once"});
    CHECK(asked.status == 3);
    CHECK(asked.err == "emberline: no panel: this bench was started without one\n");
    CHECK(running.stop(SIGTERM).status == 0);
  }
  {
    const Small small("panel: off\n");
    Background running(small.arguments({"--panel", "0"}));
    REQUIRE(running.wait_for_file(small.ready));
    CHECK(small.url() != "");
    CHECK(running.stop(SIGTERM).status == 0);
  }
  {
    const Small small;
    Background running(small.arguments({"--panel", "off"}));
    REQUIRE(running.wait_for_file(small.ready));
    CHECK(small.url() == "");
    CHECK(running.stop(SIGTERM).status == 0);
  }
}

TEST_CASE("a second bench gets a port of its own, unless it was told which") {
  const Small first("");  // 127.0.0.1:8710, or another one if somebody has it
  Background one(first.arguments());
  REQUIRE(one.wait_for_file(first.ready));
  const Small second("");
  Background two(second.arguments());
  REQUIRE(two.wait_for_file(second.ready));
  CHECK(first.url() != second.url());
  const auto port = first.url().substr(std::string("http://127.0.0.1:").size());
  const Small third;
  const auto taken = run_emberline(third.arguments({"--panel", port.substr(0, port.size() - 1)}));
  CHECK(taken.status == 3);
  CHECK_MESSAGE(has(taken.err, "emberline: panel: cannot listen on 127.0.0.1:"), taken.err);
  CHECK(!std::filesystem::exists(third.control));
  CHECK(one.stop(SIGTERM).status == 0);
  CHECK(two.stop(SIGTERM).status == 0);
}

TEST_CASE("a token is asked for where there is one, and the class's only shows") {
  const Small small;
  const auto both = small.secret("both", std::string(kTrainer) + "\n" + kWatcher + "\n");
  const auto watcher = small.secret("watcher", std::string(kWatcher) + "\n");
  const auto wrong = small.secret("wrong", "wrong-token-0123456789\n");
  Background running(
      small.arguments({"--panel-token", both, "--panel", "0.0.0.0:0", "--panel-name", "oven.example"}));
  REQUIRE(running.wait_for_file(small.ready));
  REQUIRE(running.wait_for_output("(asks for a token); other machines can reach it"));
  auto url = small.url();
  REQUIRE(url.starts_with("http://oven.example:"));
  url.replace(7, 12, "127.0.0.1");
  const auto none = run_emberline({"watch", url, "--once"});
  CHECK(none.status == 2);
  CHECK_MESSAGE(has(none.err, url + ": a token is needed; expected --token-file FILE"), none.err);
  const auto silent = run_emberline({"tell", url, "cut desk"});
  CHECK(silent.status == 2);
  CHECK_MESSAGE(has(silent.err, "expected --token-file FILE"), silent.err);
  CHECK(run_emberline({"watch", url, "--once", "--token-file", wrong}).status == 2);
  const auto watched = run_emberline({"watch", url, "--once", "--token-file", watcher});
  CHECK_MESSAGE(watched.status == 0, watched.err);
  const auto refused = run_emberline({"tell", url, "cut desk", "--token-file", watcher});
  CHECK(refused.status == 2);
  CHECK_MESSAGE(has(refused.err, "watchers"), refused.err);
  CHECK(run_emberline({"tell", url, "cut desk", "--token-file", both}).status == 0);
  CHECK(running.stop(SIGTERM).status == 0);
}

TEST_CASE("each mistake about a panel is one line and exit status 2, before anything opens") {
  const Small small;
  const auto good = small.secret("good", std::string(kTrainer) + "\n");
  const auto open_to_all = small.folder.write("open", std::string(kTrainer) + "\n");
  ::chmod(open_to_all.c_str(), 0644);
  const auto secret = [&small](const char* name, const std::string& text) {
    return small.secret(name, text);
  };
  struct Row {
    std::vector<std::string> arguments;
    std::string words;
  };
  const Row rows[] = {
      {{"--panel", "everywhere"}, "--panel: expected 'off', a port such as 8710, or a host and a port"},
      {{"--panel", "65536"}, "--panel: expected"},
      {{"--panel", "127.0.0.1:"}, "--panel: expected"},
      {{"--panel", "http://127.0.0.1:8710/"}, "--panel: expected"},
      {{"--panel", "-1"}, "--panel: expected"},
      {{"--panel", "0.0.0.0:0"}, "panel: other machines can reach 0.0.0.0; expected --panel-token"},
      {{"--panel", "[::]:0"}, "expected --panel-token"},
      {{"--panel-token", small.folder.file("missing")}, "cannot be read: No such file"},
      {{"--panel-token", "/"}, "is no file"},
      {{"--panel-token", open_to_all}, "others can read it"},
      {{"--panel-token", secret("empty", "")}, "expected one or two lines"},
      {{"--panel-token", secret("short", "fifteen-letters\n")}, "16 to 256 characters"},
      {{"--panel-token", secret("blank", "a token with blanks in it\n")}, "without blanks"},
      {{"--panel-token",
        secret("three", std::string(kTrainer) + "\n" + kWatcher + "\nthird-token-0123456789\n")},
       "expected one or two lines"},
      {{"--panel-token", secret("long", std::string(10'000, 'x'))}, "16 to 256 characters"},
      {{"--panel-token", secret("same", std::string(kTrainer) + "\n" + kTrainer + "\n")}, "is the trainer's"},
  };
  const Row of_no_use[] = {
      {{"--panel", "off", "--panel-token", good}, "--panel-token is of no use: the panel is off"},
      {{"--panel", "off", "--panel-name", "oven.example"}, "--panel-name is of no use: the panel is off"},
  };
  for (const auto& row : of_no_use) {
    CAPTURE(row.arguments[2]);
    const auto refused = run_emberline(small.arguments(row.arguments));
    CHECK(refused.status == 2);
    CHECK(refused.err.starts_with("emberline: " + row.words));
    CHECK(!std::filesystem::exists(small.control));
  }
  const auto off = Small("panel: off\n");
  CHECK(run_emberline(off.arguments({"--panel-token", good})).status == 2);
  for (const auto& row : rows) {
    CAPTURE(row.arguments[1]);
    const auto refused = run_emberline(small.arguments(row.arguments));
    CHECK(refused.status == 2);
    CHECK_MESSAGE(has(refused.err, row.words), refused.err);
    CHECK(std::count(refused.err.begin(), refused.err.end(), '\n') == 1);
    CHECK(!has(refused.err, kTrainer));  // a secret is not repeated
    CHECK(!std::filesystem::exists(small.control));
  }
  const auto bad_bench = Small("panel: nowhere\n");
  const auto checked = run_emberline({"check", bad_bench.bench});
  CHECK(checked.status == 2);
  CHECK_MESSAGE(has(checked.err, "bench.yaml:2:8: panel: expected 'off', a port"), checked.err);
  CHECK(run_emberline({"check", Small("panel: 8711\n").bench}).status == 0);
  CHECK(run_emberline({"check", Small("panel: '[::1]:8711'\n").bench}).status == 0);
}

TEST_CASE("each mistake in asking a panel is one line with what was expected") {
  const Small small;
  struct Row {
    std::vector<std::string> arguments;
    int status;
    std::string words;
  };
  const Row rows[] = {
      {{"watch"}, 2, "required"},
      {{"watch", "http://127.0.0.1:1/", "--every", "soon"}, 2, "--every"},
      {{"watch", "http://127.0.0.1:1/", "--every", "10 ms"}, 2, "100 ms"},
      {{"watch", "http://127.0.0.1:1/", "--once"}, 3, "nobody there"},
      {{"watch", "http://127.0.0.1:x/class", "--once"}, 3, "expected the address of a panel"},
      {{"watch", small.control, "--once"}, 3, small.control},
      {{"tell", "http://127.0.0.1:1/", "cut desk"}, 3, "nobody there"},
      {{"tell", small.control, "cut desk", "--token-file", "x"},
       2,
       "--token-file is for the address of a panel"},
      {{"tell", "http://127.0.0.1:1/", "cut desk", "--token-file", "/missing"}, 2, "--token-file: /missing"},
  };
  for (const auto& row : rows) {
    CAPTURE(row.words);
    const auto refused = run_emberline(row.arguments);
    CHECK(refused.status == row.status);
    CHECK_MESSAGE(has(refused.err, row.words), refused.err);
    CHECK(std::count(refused.err.begin(), refused.err.end(), '\n') == 1);
  }
}
