#include <array>
#include <cstdlib>
#include <optional>
#include <string>
#include <vector>

#include <fcntl.h>
#include <termios.h>
#include <unistd.h>

#include "tests/bench/child.hpp"
#include "tests/bench/serial_master.hpp"
#include "tests/bench/speed.hpp"

namespace emberline::speed {
namespace {

constexpr auto kRound = std::chrono::milliseconds{400};

/// The floor: gives back what came, or a canned answer to 03. Never returns.
void echo(int terminal) {
  const auto canned = canned_read();
  std::array<std::uint8_t, 256> bytes{};
  while (true) {
    const auto count = ::read(terminal, bytes.data(), bytes.size());
    if (count < 2) continue;
    const bool read = bytes[1] == 0x03;
    (void)!::write(terminal, read ? canned.data() : bytes.data(),
                   read ? canned.size() : static_cast<std::size_t>(count));
  }
}

struct Echo {
  int terminal = -1;
  int other_end = -1;  // held open, or a read finds nobody there
  std::string path;
  std::optional<Child> child;
  Echo() {
    terminal = ::posix_openpt(O_RDWR | O_NOCTTY | O_CLOEXEC);
    std::array<char, 128> name{};
    if (terminal < 0 || ::grantpt(terminal) != 0 || ::unlockpt(terminal) != 0 ||
        ::ptsname_r(terminal, name.data(), name.size()) != 0)
      give_up("no pseudo-terminal");
    path = name.data();
    other_end = ::open(path.c_str(), O_RDWR | O_NOCTTY | O_CLOEXEC);
    termios settings{};
    ::tcgetattr(other_end, &settings);
    ::cfmakeraw(&settings);
    ::tcsetattr(other_end, TCSANOW, &settings);
    child.emplace(Child::running([this] { echo(terminal); }));
  }
  ~Echo() {
    ::close(other_end);
    ::close(terminal);
  }
  Echo(const Echo&) = delete;
  Echo& operator=(const Echo&) = delete;
};

struct Figures {
  std::vector<double> p50_us, p99_us, p999_us, processor_us;
};

void measure(const std::string& path, pid_t process, Ask what, Figures& figures) {
  SerialMaster master(path);
  Histogram took;
  const auto round_trip = [&] {
    master.ask(what);
    while (!master.look()) {
    }
  };
  for (int warm = 0; warm < 200; ++warm) round_trip();
  const auto before = processor_ns(process);
  for (const auto end = Clock::now() + kRound; Clock::now() < end;) {
    round_trip();
    took.add(master.took());
  }
  const auto after = processor_ns(process);
  figures.p50_us.push_back(took.quantile_us(0.5));
  figures.p99_us.push_back(took.quantile_us(0.99));
  figures.p999_us.push_back(took.quantile_us(0.999));
  if (before && after)
    figures.processor_us.push_back((*after - *before) / 1e3 / static_cast<double>(took.count()));
}

void add_row(Table& table, const std::string& request, const char* server, const Figures& figures) {
  table.row({request, server, number(median(figures.p50_us), 1), number(median(figures.p99_us), 1),
             number(median(figures.p999_us), 1),
             figures.processor_us.empty() ? "-" : number(median(figures.processor_us), 1)});
}

}  // namespace

void pty_speed() {
  Table table({"request", "server", "p50 us", "p99 us", "p99.9 us", "CPU us each"});
  {
    const Served program(EMBERLINE_SOURCE_DIR "/tests/bench/one-pty.yaml");
    const Echo floor;
    bind_to(processors().measuring);
    ::sleep(2);  // start_up of the unit
    for (const Ask what : {Ask::write, Ask::read}) {
      Figures ours, theirs;
      for (int round = 0; round < wanted().rounds; ++round) {
        measure(program.path("wire"), program.process(), what, ours);
        measure(floor.path, floor.child->process(), what, theirs);
      }
      const std::string name = what == Ask::write ? "06" : "03 of 16";
      add_row(table, name, "emberline", ours);
      add_row(table, name, "bare echo", theirs);
      table.row({name, "ratio", number(median(ours.p50_us) / median(theirs.p50_us), 2),
                 number(median(ours.p99_us) / median(theirs.p99_us), 2),
                 number(median(ours.p999_us) / median(theirs.p999_us), 2),
                 ours.processor_us.empty()
                     ? "-"
                     : number(median(ours.processor_us) / median(theirs.processor_us), 2)});
    }
  }
  unbind();
  table.print("Round trip over a pseudo-terminal, pacing off, beside a bare echo",
              "The echo gives 06 back as it came, and a canned answer to 03.");
}

}  // namespace emberline::speed
