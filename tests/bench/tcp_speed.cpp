#include <array>
#include <vector>

#include <unistd.h>

#include "tests/bench/load.hpp"
#include "tests/bench/servers.hpp"
#include "tests/bench/speed.hpp"

namespace emberline::speed {
namespace {

constexpr auto kWarm = std::chrono::milliseconds{40};
constexpr auto kRound = std::chrono::milliseconds{400};

/// One server under one load: a figure a round.
struct Figures {
  std::vector<double> per_second, p50_us, p99_us, p999_us, processor_us, busy;
};

void measure(const Servers::Server& server, int connections, int at_once, Ask what, Figures& figures) {
  {
    Load load(server.port, connections, at_once);
    load.ask(what, kWarm);
    const auto before = processor_ns(server.process);
    const auto answers = load.ask(what, kRound);
    const auto after = processor_ns(server.process);
    figures.per_second.push_back(static_cast<double>(answers.count) / answers.seconds);
    figures.p50_us.push_back(answers.took.quantile_us(0.5));
    figures.p99_us.push_back(answers.took.quantile_us(0.99));
    figures.p999_us.push_back(answers.took.quantile_us(0.999));
    if (before && after) {
      figures.processor_us.push_back((*after - *before) / 1e3 / static_cast<double>(answers.count));
      figures.busy.push_back((*after - *before) / 1e9 / answers.seconds);
    }
  }
  ::usleep(20'000);  // what is to be done about closed connections is done before the next one's turn
}

/// Median of what one is to another, round by round.
double ratio(const std::vector<double>& ours, const std::vector<double>& theirs) {
  std::vector<double> ratios;
  for (std::size_t i = 0; i < ours.size() && i < theirs.size(); ++i) ratios.push_back(ours[i] / theirs[i]);
  return median(ratios);
}

using Three = std::array<Figures, 3>;

Three in_turns(const Servers& servers, int connections, int at_once, Ask what) {
  Three three;
  for (int round = 0; round < wanted().rounds; ++round)
    for (std::size_t i = 0; i < three.size(); ++i)
      measure(servers.all()[i], connections, at_once, what, three[i]);
  servers.require_alive();
  return three;
}

std::string name_of(int connections, int at_once, Ask what) {
  return std::string(what == Ask::read ? "03" : "06") + ", " + std::to_string(connections) +
         (at_once > 1 ? " x " + std::to_string(at_once) : "");
}

void add_rows(const Servers& servers, const std::string& name, const Three& three, Table& figures,
              Table& claim) {
  for (std::size_t i = 0; i < three.size(); ++i) {
    const auto& one = three[i];
    figures.row({name, servers.all()[i].name, number(median(one.per_second)), number(median(one.p50_us), 1),
                 number(median(one.p99_us), 1), number(median(one.p999_us), 1),
                 one.processor_us.empty() ? "-" : number(median(one.processor_us), 2),
                 one.busy.empty() ? "-" : number(100 * median(one.busy)) + " %"});
  }
  const auto& [ours, plain, floor] = three;
  claim.row({name, number(ratio(ours.per_second, plain.per_second), 2),
             number(100 * ratio(ours.per_second, floor.per_second)) + " %",
             number(ratio(ours.p99_us, floor.p99_us), 2), number(ratio(ours.p99_us, plain.p99_us), 2),
             number(ratio(ours.processor_us, floor.processor_us), 2),
             number(ratio(ours.processor_us, plain.processor_us), 2)});
}

}  // namespace

void tcp_speed() {
  const Servers servers;
  Table figures(
      {"request, connections", "server", "a second", "p50 us", "p99 us", "p99.9 us", "CPU us each", "busy"});
  Table claim({"request, connections", "speed / plain", "speed / floor", "p99 / floor", "p99 / plain",
               "CPU / floor", "CPU / plain"});
  for (const Ask what : {Ask::read, Ask::write}) {
    for (const int connections : {1, 8, 64, 256}) {
      const auto three = in_turns(servers, connections, 1, what);
      add_rows(servers, name_of(connections, 1, what), three, figures, claim);
    }
  }
  for (const int connections : {1, 8})
    add_rows(servers, name_of(connections, 10, Ask::read), in_turns(servers, connections, 10, Ask::read),
             figures, claim);
  unbind();
  claim.print(
      "Modbus TCP: emberline beside the plain libmodbus loop and the floor; median of " +
          number(wanted().rounds) + " rounds in turns",
      "Wanted: at 1 connection 1.00 of the plain loop, at 8 and more 1.70 of it and 85 % of the floor; p99 "
      "below 1.30 of the floor's. 'x 10': ten requests in one write.");
  figures.print(
      "The figures behind it: 03 of 16 live registers, 06 of the setpoint",
      "Busy: how much of its processor a server took; where it is well below 100 %, the masters were the "
      "slower ones, and the CPU time says what an answer costs.");
}

}  // namespace emberline::speed
