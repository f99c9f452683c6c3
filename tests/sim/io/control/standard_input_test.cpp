#include <fstream>
#include <future>
#include <mutex>

#include <doctest/doctest.h>
#include <fcntl.h>
#include <sys/socket.h>

#include "sim/io/control/control.hpp"
#include "sim/io/control/hands.hpp"
#include "sim/io/line/pty_device.hpp"
#include "tests/sim/io/line/raw_master.hpp"

using namespace emberline;
using namespace emberline::test;

namespace {

/// Puts another descriptor in the place of standard input until the end of the test.
class InPlaceOfInput {
 public:
  explicit InPlaceOfInput(int descriptor) : kept_(::fcntl(STDIN_FILENO, F_DUPFD_CLOEXEC, 10)) {
    REQUIRE(::dup2(descriptor, STDIN_FILENO) == STDIN_FILENO);
  }
  ~InPlaceOfInput() {
    if (kept_.open()) {
      ::dup2(kept_.number(), STDIN_FILENO);
    } else {
      ::close(STDIN_FILENO);
    }
  }
  InPlaceOfInput(const InPlaceOfInput&) = delete;
  InPlaceOfInput& operator=(const InPlaceOfInput&) = delete;

 private:
  io::Descriptor kept_;
};

/// Answers, as they come on the bench's thread.
class Answers {
 public:
  std::function<void(const std::string&)> taker() {
    return [this](const std::string& answer) {
      const std::lock_guard lock(mutex_);
      answers_.push_back(answer);
    };
  }
  std::vector<std::string> wait_for(std::size_t count) {
    const Deadline deadline;
    for (;;) {
      {
        const std::lock_guard lock(mutex_);
        if (answers_.size() >= count) {
          return answers_;
        }
      }
      deadline.check();
      std::this_thread::yield();
    }
  }

 private:
  std::mutex mutex_;
  std::vector<std::string> answers_;
};

}  // namespace

TEST_CASE("standard input takes the same words, and its end stops nothing") {
  for (const bool is_socket : {false, true}) {
    CAPTURE(is_socket);
    int ends[2];
    if (is_socket) {
      REQUIRE(::socketpair(AF_UNIX, SOCK_STREAM | SOCK_CLOEXEC, 0, ends) == 0);
    } else {
      REQUIRE(::pipe2(ends, O_CLOEXEC) == 0);
    }
    const io::Descriptor reading(ends[0]);
    io::Descriptor writing(ends[1]);
    const InPlaceOfInput replaced(reading.number());
    Answers answers;
    Running running(small_bench());
    io::Control control(running.wall(), running.bench());
    control.read_standard_input(answers.taker());
    if (is_socket) control.panel_at("http://127.0.0.1:8710/");
    running.go();
    const std::string text = "cut field\n\n  \nnonsense\nrestore field\npanel\nping";
    REQUIRE(::write(writing.number(), text.data(), text.size()) == static_cast<ssize_t>(text.size()));
    CHECK(answers.wait_for(3)[0] == "ok cut field");
    writing.close();
    const auto all = answers.wait_for(5);
    CHECK(all[1].find("error unknown action 'nonsense'") == 0);
    CHECK(all[2] == "ok restore field");
    CHECK(all[3] ==
          (is_socket ? "ok http://127.0.0.1:8710/" : "error no panel: this bench was started without one"));
    CHECK(all[4] == "pong");
    const auto master = RawMaster::tcp(running.line("ethernet").port);
    master.send({0, 1, 0, 0, 0, 6, 1, 3, 0, 0x30, 0, 1});
    CHECK(master.receive(11).size() == 11);
    running.stop();
  }
}

TEST_CASE("a file, or nothing at all, as standard input stops nothing") {
  const Folder folder;
  std::ofstream(folder / "actions") << "cut field\n";
  struct Row {
    std::string path;
    std::size_t answers;
  };
  for (const Row& row : {Row{folder / "actions", 1}, Row{"/dev/null", 0}}) {
    CAPTURE(row.path);
    const io::Descriptor file(::open(row.path.c_str(), O_RDONLY | O_CLOEXEC));
    REQUIRE(file.open());
    const InPlaceOfInput replaced(file.number());
    Answers answers;
    Running running(small_bench());
    io::Control control(running.wall(), running.bench());
    control.read_standard_input(answers.taker());
    running.go();
    CHECK(answers.wait_for(row.answers).size() == row.answers);
    CHECK(running.ask([](bench::Bench& bench, SimTime) { return bench.line_cut(0); }) == (row.answers > 0));
    running.stop();
  }
}

TEST_CASE("reading standard input leaves the descriptor it shares with others blocking") {
  int ends[2];
  REQUIRE(::pipe2(ends, O_CLOEXEC) == 0);
  const io::Descriptor reading(ends[0]);
  const io::Descriptor writing(ends[1]);
  const InPlaceOfInput replaced(reading.number());
  Answers answers;
  Running running(small_bench());
  io::Control control(running.wall(), running.bench());
  control.read_standard_input(answers.taker());
  running.go();
  REQUIRE(::write(writing.number(), "ping\n", 5) == 5);
  CHECK(answers.wait_for(1)[0] == "pong");
  CHECK((::fcntl(reading.number(), F_GETFL) & O_NONBLOCK) == 0);
  running.stop();
}

TEST_CASE("text is cut into lines however it comes in pieces") {
  const std::string text = "one\n\ntwo\r\n" + std::string(5000, 'x') + "\nthree\nfour";
  for (const std::size_t piece : {1U, 2U, 7U, 4096U, 10000U}) {
    CAPTURE(piece);
    std::vector<std::string> lines;
    int too_long = 0;
    io::LineCutter cutter({[&](std::string line) { lines.push_back(std::move(line)); }, [&] { ++too_long; }});
    for (std::size_t at = 0; at < text.size(); at += piece) {
      cutter.receive(std::string_view(text).substr(at, piece));
    }
    cutter.end();
    cutter.end();
    CHECK(lines == std::vector<std::string>{"one", "", "two\r", "three", "four"});
    CHECK(too_long == 1);
  }
}
