#include <cerrno>
#include <csignal>
#include <cstdio>
#include <fstream>
#include <functional>
#include <map>
#include <optional>
#include <sstream>
#include <string>
#include <utility>
#include <vector>

#include <fcntl.h>
#include <sys/wait.h>
#include <unistd.h>

#include "tests/bench/load.hpp"
#include "tests/bench/servers.hpp"
#include "tests/bench/speed.hpp"

namespace emberline::speed {
namespace {

using Calls = std::map<std::string, double>;

/// `strace -c -f` on a process, from its attaching to its end.
class Tracer {
 public:
  explicit Tracer(pid_t process) : summary_(temporary_folder() + "/strace") {
    const auto traced = std::to_string(process);
    tracer_ = ::fork();
    if (tracer_ == 0) {
      bind_to(processors().measured);
      const int nothing = ::open("/dev/null", O_RDWR);
      ::dup2(nothing, 2);
      ::execlp("strace", "strace", "-c", "-f", "-o", summary_.c_str(), "-p", traced.c_str(), nullptr);
      ::_exit(3);
    }
    attached_ = tracer_ > 0 && wait_for(process);
  }
  ~Tracer() {
    if (tracer_ > 0) end();
  }
  Tracer(const Tracer&) = delete;
  Tracer& operator=(const Tracer&) = delete;
  [[nodiscard]] bool attached() const { return attached_; }

  /// Ends it; how often each call was made.
  [[nodiscard]] Calls calls() {
    end();
    Calls all;
    std::ifstream file(summary_);
    for (std::string line; std::getline(file, line);) {
      std::istringstream words(line);
      double share = 0, seconds = 0, each_us = 0, count = 0;
      if (!(words >> share >> seconds >> each_us >> count)) continue;
      std::string name;
      for (std::string word; words >> word;) name = word;  // a count of errors may stand before it
      if (name != "total") all[name] = count;
    }
    return all;
  }

 private:
  bool wait_for(pid_t process) const {
    for (int waited = 0; waited < 3000; ++waited) {
      std::ifstream file("/proc/" + std::to_string(process) + "/status");
      for (std::string word; file >> word;)
        if (pid_t by = 0; word == "TracerPid:" && file >> by && by != 0) return true;
      if (::waitpid(tracer_, nullptr, WNOHANG) == tracer_) return false;
      ::usleep(1000);
    }
    return false;
  }
  void end() {
    ::kill(tracer_, SIGINT);
    ::waitpid(tracer_, nullptr, 0);
    tracer_ = -1;
  }
  std::string summary_;
  pid_t tracer_ = -1;
  bool attached_ = false;
};

struct Counted {
  Calls calls;
  double answers = 0;
};

std::optional<Counted> count(const Servers::Server& server, int connections, int at_once, Ask what) {
  using std::chrono::milliseconds;
  Load load(server.port, connections, at_once);
  load.ask(what, milliseconds{20});
  Tracer tracer(server.process);
  if (!tracer.attached()) return std::nullopt;
  Counted counted;
  counted.answers = static_cast<double>(load.ask(what, milliseconds{700}).count);
  counted.calls = tracer.calls();
  return counted;
}

std::string by_name(const Counted& counted) {
  std::multimap<double, std::string, std::greater<>> largest_first;
  for (const auto& [name, calls] : counted.calls) largest_first.emplace(calls / counted.answers, name);
  std::string text;
  for (const auto& [each, name] : largest_first)
    if (each >= 0.005) text += (text.empty() ? "" : ", ") + name + " " + number(each, 2);
  return text;
}

}  // namespace

void system_calls() {
  struct Kind {
    const char* name;
    int connections, at_once;
    Ask what;
  };
  Table table({"request, connections", "server", "calls each", "by name"});
  {
    const Servers servers;
    for (const Kind& kind : {Kind{"03, 8", 8, 1, Ask::read}, Kind{"06, 8", 8, 1, Ask::write},
                             Kind{"03, 1 x 10", 1, 10, Ask::read}}) {
      for (const auto& server : servers.all()) {
        const auto counted = count(server, kind.connections, kind.at_once, kind.what);
        if (!counted) {
          std::printf(
              "\nSystem calls: left out, since strace is not installed or may not look at processes\n");
          unbind();
          return;
        }
        double sum = 0;
        for (const auto& [name, calls] : counted->calls) sum += calls;
        table.row({kind.name, server.name, number(sum / counted->answers, 2), by_name(*counted)});
      }
    }
  }
  unbind();
  table.print(
      "System calls an answer takes, by strace -c",
      "'x 10': ten requests in one write. Being looked at makes a server slow, so more requests are there "
      "each time it looks than otherwise.");
}

}  // namespace emberline::speed
