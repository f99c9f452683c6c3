#include "sim/io/control/control.hpp"

#include <algorithm>
#include <cstring>
#include <fstream>
#include <thread>

#include <doctest/doctest.h>
#include <sys/socket.h>
#include <sys/stat.h>
#include <sys/un.h>

#include "sim/io/line/pty_device.hpp"
#include "tests/sim/io/line/raw_master.hpp"

using namespace emberline;
using namespace emberline::test;
using Status = io::Told::Status;
namespace fs = std::filesystem;

namespace {

struct Controlled {
  Controlled() : control(running.wall(), running.bench()) {}
  ~Controlled() { running.stop(); }

  Running running{small_bench()};
  io::Control control;
};

struct sockaddr_un address_of(const std::string& path) {
  struct sockaddr_un address {};
  address.sun_family = AF_UNIX;
  std::memcpy(address.sun_path, path.data(), path.size());
  return address;
}

/// A socket on which somebody who is no bench is called.
int listen_at(const std::string& path) {
  const int descriptor = ::socket(AF_UNIX, SOCK_STREAM | SOCK_CLOEXEC, 0);
  auto address = address_of(path);
  REQUIRE(::bind(descriptor, reinterpret_cast<sockaddr*>(&address), sizeof(address)) == 0);
  REQUIRE(::listen(descriptor, 1) == 0);
  return descriptor;
}

int connect_to(const std::string& path) {
  const int descriptor = ::socket(AF_UNIX, SOCK_STREAM | SOCK_CLOEXEC, 0);
  auto address = address_of(path);
  REQUIRE(::connect(descriptor, reinterpret_cast<sockaddr*>(&address), sizeof(address)) == 0);
  return descriptor;
}

/// Sends all of `text`, says that no more comes, and gives what came back until the far end closed.
std::string converse(const std::string& path, const std::string& text) {
  const io::Descriptor socket(connect_to(path));
  REQUIRE(::send(socket.number(), text.data(), text.size(), MSG_NOSIGNAL) ==
          static_cast<ssize_t>(text.size()));
  ::shutdown(socket.number(), SHUT_WR);
  std::string answer;
  char inbox[1024];
  struct pollfd state {
    socket.number(), POLLIN, 0
  };
  while (::poll(&state, 1, 60000) == 1) {
    const ssize_t count = ::recv(socket.number(), inbox, sizeof(inbox), 0);
    if (count <= 0) {
      break;
    }
    answer.append(inbox, static_cast<std::size_t>(count));
  }
  return answer;
}

}  // namespace

TEST_CASE("what is told is done, and what is not understood is answered with what was expected") {
  const Folder folder;
  Controlled bench;
  REQUIRE(bench.control.listen(folder / "bench.sock"));
  bench.running.go();
  struct Row {
    const char* line;
    Status status;
    const char* words;
  };
  const Row rows[] = {
      {"ping", Status::done, "pong"},
      {"cut field", Status::done, "ok cut field"},
      {"  restore   field ", Status::done, "ok restore field"},
      {"cut: ethernet", Status::done, "ok cut ethernet"},
      {"restore ethernet", Status::done, "ok restore ethernet"},
      {"open north.terminal.enable", Status::done, "ok open north.terminal.enable"},
      {"power_off south", Status::done, "ok power_off south"},
      {"cutt field", Status::not_understood, "'cut'"},
      {"cut feild", Status::not_understood, "'field'"},
      {"cut", Status::not_understood, "a line of the bench"},
      {"cut field now", Status::not_understood, "'cut' has no key 'now'"},
      {"cut field way to-units for 10 s", Status::done, "ok cut field way to-units for 10 s"},
      {"traffic", Status::done, "ok traffic so far"},
      {"", Status::not_understood, "expected an action"},
      {"\x1b[2Jboo", Status::not_understood, " [2Jboo"},
  };
  for (const Row& row : rows) {
    CAPTURE(row.line);
    const auto told = io::tell(folder / "bench.sock", row.line);
    CHECK(told.status == row.status);
    CAPTURE(told.answer);
    CHECK(told.answer.find(row.words) != std::string::npos);
    CHECK(told.answer.find('\n') == std::string::npos);
  }
}

TEST_CASE("an action takes effect on the lines at once") {
  const Folder folder;
  Controlled bench;
  REQUIRE(bench.control.listen(folder / "bench.sock"));
  bench.running.go();
  REQUIRE(io::tell(folder / "bench.sock", "cut field").status == Status::done);
  CHECK(bench.running.ask([](bench::Bench& it, SimTime) { return it.line_cut(0); }));
  REQUIRE(io::tell(folder / "bench.sock", "restore field").status == Status::done);
  CHECK_FALSE(bench.running.ask([](bench::Bench& it, SimTime) { return it.line_cut(0); }));
  CHECK(bench.running.statistics().requests == 0);
}

TEST_CASE("telling and asking never feed a watchdog") {
  const Folder folder;
  bench::BenchSpec spec = small_bench();
  spec.units[0].unit.comms_loss.timeout = std::chrono::milliseconds{100};
  spec.units[0].unit.comms_loss.policy = registers::Policy::latch_to_inhibit;
  Running running(std::move(spec));
  io::Control control(running.wall(), running.bench());
  REQUIRE(control.listen(folder / "bench.sock"));
  running.go();
  const auto master = RawMaster::tcp(running.line("ethernet").port);
  master.send({0, 1, 0, 0, 0, 6, 1, 3, 0, 0x30, 0, 1});
  REQUIRE(master.receive(11).size() == 11);
  const Deadline deadline;
  const auto state = [&] {
    return running.ask([](bench::Bench& bench, SimTime) { return bench.unit(0).state(); });
  };
  while (state() != registers::State::inhibited) {
    deadline.check();
    REQUIRE(io::tell(folder / "bench.sock", "ping").status == Status::done);
    REQUIRE(io::tell(folder / "bench.sock", "restore field").status == Status::done);
  }
  running.stop();
}

TEST_CASE("several lines of one connection are answered in order, the last one without an end too") {
  const Folder folder;
  Controlled bench;
  bench.control.panel_at("http://127.0.0.1:8710/");  // known before somebody can ask, or after: the same
  REQUIRE(bench.control.listen(folder / "bench.sock"));
  bench.running.go();
  CHECK(converse(folder / "bench.sock", "ping\r\npanel\ncut field\nrestore field") ==
        "pong\nok http://127.0.0.1:8710/\nok cut field\nok restore field\n");
}

TEST_CASE("a line that is too long is refused, and the next one is taken") {
  const Folder folder;
  Controlled bench;
  REQUIRE(bench.control.listen(folder / "bench.sock"));
  bench.running.go();
  const std::string longest = "cut " + std::string(4092, 'x');
  CHECK(io::tell(folder / "bench.sock", longest).answer.find("longer than") == std::string::npos);
  const auto told = io::tell(folder / "bench.sock", longest + "x");
  CHECK(told.status == Status::not_understood);
  CHECK(told.answer.find("longer than 4096 characters") != std::string::npos);
  const std::string answers = converse(folder / "bench.sock", std::string(100000, 'y') + "\nping\n");
  CHECK(answers.find("error the line is longer than 4096 characters") == 0);
  CHECK(answers.find("\npong\n") != std::string::npos);
}

TEST_CASE("whoever asks hundreds of things at once gets hundreds of answers") {
  const Folder folder;
  Controlled bench;
  REQUIRE(bench.control.listen(folder / "bench.sock"));
  bench.running.go();
  std::string questions;
  for (int i = 0; i < 300; ++i) questions += "traffic\nnonsense " + std::string(300, 'x') + "\n";
  const std::string answers = converse(folder / "bench.sock", questions);
  CHECK(std::count(answers.begin(), answers.end(), '\n') == 600);
}

TEST_CASE("whoever asks on and on and never reads is not listened to, and keeps nobody from being answered") {
  const Folder folder;
  Controlled bench;
  REQUIRE(bench.control.listen(folder / "bench.sock"));
  bench.running.go();
  const io::Descriptor deaf(connect_to(folder / "bench.sock"));
  const std::string question = "nonsense " + std::string(300, 'x') + "\n";
  std::size_t taken = 0;
  // Until the system has no room left for its questions either: the bench has stopped to take them.
  for (ssize_t count = 1; count > 0; taken += count > 0 ? static_cast<std::size_t>(count) : 0) {
    struct pollfd room {
      deaf.number(), POLLOUT, 0
    };
    if (::poll(&room, 1, 500) != 1) break;
    count = ::send(deaf.number(), question.data(), question.size(), MSG_NOSIGNAL | MSG_DONTWAIT);
    REQUIRE(taken < 100'000'000);
  }
  CHECK(taken > 0);
  CHECK(io::tell(folder / "bench.sock", "ping").answer == "pong");
}

TEST_CASE("callers that hang up or say nothing end nothing") {
  const Folder folder;
  Controlled bench;
  REQUIRE(bench.control.listen(folder / "bench.sock"));
  bench.running.go();
  const io::Descriptor silent(connect_to(folder / "bench.sock"));
  for (int i = 0; i < 50; ++i) {
    const io::Descriptor rude(connect_to(folder / "bench.sock"));
    ::send(rude.number(), "ping\nping\n", 10, MSG_NOSIGNAL);
  }
  CHECK(io::tell(folder / "bench.sock", "ping").answer == "pong");
}

TEST_CASE("the socket is for its owner only, in a folder that is, and goes with the bench") {
  const Folder folder;
  const std::string path = folder / "a/b/bench.sock";
  {
    Controlled bench;
    REQUIRE(bench.control.listen(path));
    struct stat there {};
    REQUIRE(::stat(path.c_str(), &there) == 0);
    CHECK((there.st_mode & 0777) == 0600);
    REQUIRE(::stat((folder / "a/b").c_str(), &there) == 0);
    CHECK((there.st_mode & 0777) == 0700);
    bench.control.close();
    CHECK_FALSE(fs::exists(path));
  }
}

TEST_CASE("a stale socket is replaced, and nothing else ever is") {
  const Folder folder;
  const std::string path = folder / "bench.sock";
  Controlled bench;
  SUBCASE("a socket that nobody listens at") {
    const io::Descriptor old(::socket(AF_UNIX, SOCK_STREAM | SOCK_CLOEXEC, 0));
    auto address = address_of(path);
    REQUIRE(::bind(old.number(), reinterpret_cast<sockaddr*>(&address), sizeof(address)) == 0);
    REQUIRE(bench.control.listen(path));
    bench.running.go();
    CHECK(io::tell(path, "ping").answer == "pong");
  }
  SUBCASE("a live one") {
    Controlled other;
    REQUIRE(other.control.listen(path));
    const auto listening = bench.control.listen(path);
    REQUIRE_FALSE(listening);
    CHECK(listening.error().find("control socket: another bench is running behind " + path) == 0);
    other.running.go();
    CHECK(io::tell(path, "ping").answer == "pong");
  }
  SUBCASE("a file") {
    std::ofstream(path) << "kept";
    const auto listening = bench.control.listen(path);
    REQUIRE_FALSE(listening);
    CHECK(listening.error().find("left alone") != std::string::npos);
    CHECK(fs::file_size(path) == 4);
  }
  SUBCASE("a link") {
    std::ofstream(folder / "file") << "kept";
    fs::create_symlink(folder / "file", path);
    CHECK_FALSE(bench.control.listen(path));
    CHECK(fs::is_symlink(path));
  }
  SUBCASE("a folder that is a file") {
    std::ofstream(folder / "file") << "kept";
    const auto listening = bench.control.listen(folder / "file/bench.sock");
    REQUIRE_FALSE(listening);
    CHECK(listening.error().find("is no folder") != std::string::npos);
  }
  SUBCASE("a path too long for a socket") {
    const auto listening = bench.control.listen(folder / std::string(200, 'x'));
    REQUIRE_FALSE(listening);
    CHECK(listening.error().find("1 to 107 characters") != std::string::npos);
  }
}

TEST_CASE("with nobody there, the teller says so") {
  const Folder folder;
  CHECK(io::tell(folder / "absent.sock", "ping").status == Status::nobody_there);
  std::ofstream(folder / "file") << "no socket";
  CHECK(io::tell(folder / "file", "ping").status == Status::nobody_there);
  CHECK(io::tell("", "ping").status == Status::nobody_there);
  CHECK(io::tell(folder / std::string(200, 'x'), "ping").status == Status::nobody_there);
  CHECK(io::tell(folder / "absent.sock", "cut a\ncut b").status == Status::not_understood);

  // Somebody takes the call and hangs up before it has read anything.
  const std::string path = folder / "rude.sock";
  const io::Descriptor listener(listen_at(path));
  std::thread rude([&] { ::close(::accept(listener.number(), nullptr, nullptr)); });
  CHECK(io::tell(path, "ping").status == Status::nobody_there);
  rude.join();
}

TEST_CASE("whoever is behind a socket steers the terminal its answer is shown on") {
  const Folder folder;
  const auto path = folder / "other.sock";
  const io::Descriptor listener(listen_at(path));
  const auto told = [&](const std::string& answer) {
    std::thread other([&] {
      const io::Descriptor caller(::accept(listener.number(), nullptr, nullptr));
      (void)::send(caller.number(), answer.data(), answer.size(), MSG_NOSIGNAL);
      char inbox[256];
      while (::recv(caller.number(), inbox, sizeof(inbox), 0) > 0) {
      }
    });
    auto result = io::tell(path, "traffic");
    other.join();
    return result.answer;
  };
  CHECK(told("ok traffic\tone\x1b[2J\ttwo\x7F\r\n") == "ok traffic\tone [2J\ttwo  ");
  CHECK(told("error \xC2\x9B"
             "31mno\n") == "  31mno");
}

TEST_CASE("the traffic of many masters is too long for whoever asks") {
  const Folder folder;
  const auto path = folder / "busy.sock";
  const io::Descriptor listener(listen_at(path));
  const std::string answer = "ok traffic so far\t" + std::string(1'000'000, 'x');
  std::thread busy([&] {
    const io::Descriptor caller(::accept(listener.number(), nullptr, nullptr));
    const auto line = answer + "\n";
    for (std::size_t done = 0; done < line.size();) {
      const auto sent = ::send(caller.number(), line.data() + done, line.size() - done, MSG_NOSIGNAL);
      if (sent <= 0) return;
      done += static_cast<std::size_t>(sent);
    }
  });
  const auto told = io::tell(path, "traffic");
  busy.join();
  CHECK(told.status == Status::done);
  CHECK(told.answer == answer);
}

TEST_CASE("a bench file's socket is found by its name") {
  const char* before = ::getenv("XDG_RUNTIME_DIR");
  const std::string kept = before == nullptr ? "" : before;
  const std::string user = std::to_string(::getuid());
  ::setenv("XDG_RUNTIME_DIR", "/run/somewhere", 1);
  CHECK(io::default_control_path("config/benches/annealing-lehr.yaml") ==
        "/run/somewhere/emberline-" + user + "/annealing-lehr.sock");
  CHECK(io::default_control_path("lehr") == "/run/somewhere/emberline-" + user + "/lehr.sock");
  ::unsetenv("XDG_RUNTIME_DIR");
  CHECK(io::default_control_path("./a.b/lehr.v2.yaml") == "/tmp/emberline-" + user + "/lehr.v2.sock");
  if (before != nullptr) {
    ::setenv("XDG_RUNTIME_DIR", kept.c_str(), 1);
  }
}
