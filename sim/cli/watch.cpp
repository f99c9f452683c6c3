#include <algorithm>
#include <chrono>
#include <optional>

#include "sim/cli/commands.hpp"
#include "sim/cli/connection.hpp"
#include "sim/cli/exit_code.hpp"
#include "sim/cli/output.hpp"
#include "sim/cli/panel_talk.hpp"
#include "sim/cli/pause.hpp"
#include "sim/cli/stop_signals.hpp"
#include "sim/cli/watch_table.hpp"

namespace emberline::cli {
namespace {

constexpr auto kShortest = std::chrono::milliseconds{100};
constexpr int kRowsToAHeading = 20;  // on a terminal, which forgets what has gone off its top

std::optional<Duration> interval_of(const std::string& text) {
  const auto every = parse_time("--every", text);
  if (every && *every >= Duration(kShortest)) return *every;
  complain("--every: expected a time from 100 ms on, such as '1 s', found '" + text + "'");
  return std::nullopt;
}

/// Prints one row; otherwise what to exit with.
std::optional<int> show_row(const PanelPlace& panel, const WatchTable& table) {
  const auto state = ask_panel(panel, "/api/state");
  if (!state) return gave_up(state.error());
  const auto row = table.row(*state);
  if (!row) return gave_up({kSurroundingsFailed, panel.url + ": " + row.error()});
  print(*row);
  return std::nullopt;
}

}  // namespace

int watch(const WatchOptions& options) {
  const auto every = interval_of(options.every);
  if (!every) return kInputUnusable;
  Pause pause;
  StopSignals signals;
  signals.watch([&pause] { pause.stop(); });
  const auto panel = find_panel(options.where, options.token_file);
  if (!panel) return gave_up(panel.error());
  const auto bench = ask_panel(*panel, "/api/bench");
  if (!bench) return gave_up(bench.error());
  const auto table = WatchTable::of_bench(*bench);
  if (!table) return gave_up({kSurroundingsFailed, panel->url + ": " + table.error()});
  auto next = std::chrono::steady_clock::now();
  for (int rows = 0;; ++rows) {
    if (rows == 0 || (rewriting_possible() && rows % kRowsToAHeading == 0)) print(table->heading());
    if (const auto status = show_row(*panel, *table)) return *status;
    if (options.once) return kAllWell;
    next = std::max(next + std::chrono::duration_cast<std::chrono::nanoseconds>(*every),
                    std::chrono::steady_clock::now());
    if (pause.wait_until(next)) return kAllWell;
  }
}

}  // namespace emberline::cli
