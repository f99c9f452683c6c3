#include <filesystem>
#include <string>

#include <doctest/doctest.h>
#include <fcntl.h>
#include <signal.h>
#include <stdlib.h>
#include <sys/stat.h>
#include <unistd.h>

#include "tests/support/process.hpp"

using emberline::testing::Background;
using emberline::testing::read_file;
using emberline::testing::run_emberline;
using emberline::testing::TemporaryFolder;

namespace {

/// The shipped bench, with its lines at places of this test's own.
struct Served {
  explicit Served(const TemporaryFolder& folder)
      : bench(folder.file("bench.yaml")),
        link(folder.file("lines/field")),
        control(folder.file("control.sock")),
        ready(folder.file("ready.json")) {
    std::filesystem::create_directory(folder.file("config"));
    auto text = read_file(std::string(EMBERLINE_SOURCE_DIR) + "/config/benches/annealing-lehr.yaml");
    replace(text, "/tmp/emberline/field", link);
    replace(text, "127.0.0.1:1502", "127.0.0.1:0");
    replace(text, "../registers/", std::string(EMBERLINE_SOURCE_DIR) + "/config/registers/");
    folder.write("bench.yaml", text);
  }
  static void replace(std::string& text, const std::string& what, const std::string& with) {
    for (auto at = text.find(what); at != std::string::npos; at = text.find(what, at + with.size()))
      text.replace(at, what.size(), with);
  }
  [[nodiscard]] std::vector<std::string> arguments() const {
    return {"serve", bench, "--control", control, "--ready-file", ready};
  }
  std::string bench, link, control, ready;
};

/// The port in a ready file.
std::string port_in(const std::string& json) {
  const auto at = json.find("\"port\":");
  REQUIRE(at != std::string::npos);
  return std::to_string(std::stoi(json.substr(at + 7)));
}

}  // namespace

TEST_CASE("serve answers on its lines, takes actions from three hands, and cleans up when it is stopped") {
  const TemporaryFolder folder;
  const Served served(folder);
  Background running(served.arguments());
  REQUIRE(running.wait_for_file(served.ready));
  const auto ready = read_file(served.ready);
  CHECK(ready.find("\"field\":{\"kind\":\"pty\",\"path\":\"" + served.link + "\"}") != std::string::npos);
  CHECK(ready.starts_with("{\"format\":\"emberline-ready-1\","));
  CHECK(ready.find("\"control\":\"" + served.control + "\"") != std::string::npos);
  CHECK(ready.find("\"panel\":\"http://127.0.0.1:") != std::string::npos);
  CHECK(std::filesystem::is_symlink(served.link));
  struct stat info {};
  REQUIRE(::stat(served.control.c_str(), &info) == 0);
  CHECK((info.st_mode & 0777) == 0600);

  const auto place = "127.0.0.1:" + port_in(ready);
  // Over TCP, by the bench's names; then over the pseudo-terminal.
  auto wired =
      run_emberline({"write", "--bench", served.bench, place, "marshalling", "coil.0=on", "coil.8=on"});
  CHECK_MESSAGE(wired.status == 0, wired.err);
  auto written = run_emberline({"write", "--bench", served.bench, "field", "soak-heater", "setpoint=50 %"});
  CHECK_MESSAGE(written.status == 0, written.err);
  CHECK_MESSAGE(written.err.find("armed the comms-loss watchdog") != std::string::npos, written.err);
  auto read =
      run_emberline({"read", "--bench", served.bench, place, "soak-heater", "setpoint", "comms_policy"});
  CHECK_MESSAGE(read.status == 0, read.err);
  CHECK_MESSAGE(read.out == "setpoint = 50 %\ncomms_policy = latch-to-inhibit\n", read.out);
  read = run_emberline({"read", "--registers",
                        std::string(EMBERLINE_SOURCE_DIR) + "/config/registers/float-pairs.yaml", place, "3",
                        "setpoint"});
  CHECK_MESSAGE(read.status == 0, read.err);
  CHECK(read.out == "setpoint = 0 %\n");

  CHECK(run_emberline({"tell", "--ping", served.control}).status == 0);
  CHECK(run_emberline({"tell", served.control, "cut field"}).status == 0);
  const auto misspelt = run_emberline({"tell", served.control, "cut feild"});
  CHECK(misspelt.status == 2);
  CHECK_MESSAGE(misspelt.err.find("did you mean 'field'") != std::string::npos, misspelt.err);
  const auto cut = run_emberline(
      {"read", "--bench", served.bench, "field", "soak-heater", "state", "--timeout", "300 ms"});
  CHECK(cut.status == 3);
  CHECK_MESSAGE(cut.err.find("no answer") != std::string::npos, cut.err);
  running.type("restore field");
  REQUIRE(running.wait_for_output("ok restore field"));
  running.end_of_input();  // ends nothing
  const auto back = run_emberline({"read", "--bench", served.bench, "field", "soak-heater", "state"});
  CHECK_MESSAGE(back.status == 0, back.err);

  const auto elsewhere = run_emberline({"read", "--bench", served.bench, "field", "marshalling", "coil.0"});
  CHECK(elsewhere.status == 2);
  CHECK_MESSAGE(elsewhere.err == "emberline: marshalling is not on line field; its lines: ethernet\n",
                elsewhere.err);
  const auto by_id = run_emberline({"read", "--bench", served.bench, place, "20", "coil.0"});
  CHECK_MESSAGE(by_id.status == 0, by_id.err);

  const auto refused =
      run_emberline({"write", "--bench", served.bench, place, "soak-heater", "setpoint=150 %"});
  CHECK(refused.status == 2);
  CHECK_MESSAGE(refused.err.find("03") != std::string::npos, refused.err);

  const auto stopped = running.stop(SIGTERM);
  CHECK(stopped.status == 0);
  CHECK(stopped.out.find("Stopped after") != std::string::npos);
  CHECK_FALSE(std::filesystem::exists(std::filesystem::symlink_status(served.link)));
  CHECK_FALSE(std::filesystem::exists(served.control));
  CHECK_FALSE(std::filesystem::exists(served.ready));
  CHECK(run_emberline({"tell", "--ping", served.control}).status == 3);
}

TEST_CASE(
    "a port that is taken and a path that is something else end with status 3 and leave everything alone") {
  const TemporaryFolder folder;
  const Served served(folder);
  Background running(served.arguments());
  REQUIRE(running.wait_for_file(served.ready));
  const auto port = port_in(read_file(served.ready));

  auto text = read_file(served.bench);
  Served::replace(text, "127.0.0.1:0", "127.0.0.1:" + port);
  Served::replace(text, served.link, folder.file("lines/other"));
  const auto second = folder.write("second.yaml", text);
  const auto taken = run_emberline({"serve", second, "--control", folder.file("second.sock")});
  CHECK(taken.status == 3);
  CHECK_MESSAGE(taken.err.find(port) != std::string::npos, taken.err);
  CHECK_FALSE(std::filesystem::exists(std::filesystem::symlink_status(folder.file("lines/other"))));

  auto third_text = read_file(served.bench);
  Served::replace(third_text, served.link, folder.write("precious", "keep me"));
  const auto third = run_emberline(
      {"serve", folder.write("third.yaml", third_text), "--control", folder.file("third.sock")});
  CHECK(third.status == 3);
  CHECK_MESSAGE(third.err.find("precious") != std::string::npos, third.err);
  CHECK(read_file(folder.file("precious")) == "keep me");

  const auto same_control = run_emberline({"serve", served.bench, "--control", served.control});
  CHECK(same_control.status == 3);
  CHECK(running.stop(SIGINT).status == 0);
}

TEST_CASE("a limit of a capture without a capture is passed over") {
  const TemporaryFolder folder;
  const Served served(folder);
  const auto refused = run_emberline({"serve", served.bench, "--capture-limit", "10"});
  CHECK(refused.status == 2);
  CHECK(refused.err == "emberline: --capture-limit requires --capture (see emberline serve --help)\n");
  CHECK(refused.out.empty());
}

TEST_CASE("the ready file says where a serial port and RTU over TCP are") {
  const TemporaryFolder folder;
  const Served served(folder);
  const int adapter = ::posix_openpt(O_RDWR | O_NOCTTY | O_CLOEXEC);
  REQUIRE(adapter >= 0);
  REQUIRE(::grantpt(adapter) == 0);
  REQUIRE(::unlockpt(adapter) == 0);
  const std::string port = ::ptsname(adapter);
  auto text = read_file(served.bench);
  Served::replace(text, "pty: " + served.link, "serial-port: " + port);
  Served::replace(text, "tcp: 127.0.0.1:0", "rtu-tcp: 127.0.0.1:0");
  folder.write("bench.yaml", text);
  Background running(served.arguments());
  REQUIRE(running.wait_for_file(served.ready));
  const auto ready = read_file(served.ready);
  CHECK_MESSAGE(ready.find(R"({"kind":"serial-port","path":")" + port + "\"}") != std::string::npos, ready);
  CHECK_MESSAGE(ready.find(R"({"kind":"rtu-tcp","host":"127.0.0.1","port":)") != std::string::npos, ready);
  CHECK(running.stop(SIGTERM).status == 0);
  ::close(adapter);
}
