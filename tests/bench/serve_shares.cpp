#include "tests/bench/serve_shares.hpp"

#include <iterator>
#include <optional>
#include <utility>

#include "sim/bench/bench.hpp"
#include "sim/bench/event_loop.hpp"
#include "sim/io/files/load.hpp"
#include "sim/io/line/wall_bench.hpp"
#include "sim/io/report/report.hpp"
#include "tests/bench/measure.hpp"

namespace emberline::speed {
namespace {

template <class T>
void append(std::vector<T>& to, std::vector<T>& from) {
  to.insert(to.end(), std::make_move_iterator(from.begin()), std::make_move_iterator(from.end()));
}

bench::BenchSpec load_all(const std::vector<std::string>& shares) {
  std::optional<bench::BenchSpec> all;
  for (const auto& share : shares) {
    auto spec = io::load_bench(share);
    if (!spec) give_up(to_text(spec.error().front()));
    if (!all) {
      all = std::move(spec).value();
      continue;
    }
    auto more = std::move(spec).value();
    append(all->lines, more.lines);
    append(all->zones, more.zones);
    append(all->units, more.units);
  }
  return std::move(*all);
}

}  // namespace

int serve_shares(const std::string& ready_file, const std::vector<std::string>& shares) {
  bench::Bench bench(load_all(shares));
  bench::EventLoop loop;
  loop.add(bench::Rank::timers, bench.timers());
  loop.add(bench::Rank::grid, bench.grid());
  io::WallBench wall(bench, loop, {});
  const auto lines = wall.open();
  if (!lines) give_up(lines.error());
  const auto written = io::write_whole(ready_file, io::ready_json(*lines, std::nullopt));
  if (!written) give_up(written.error());
  wall.run();
  return 0;
}

}  // namespace emberline::speed
