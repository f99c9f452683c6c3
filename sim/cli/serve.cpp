#include <cmath>
#include <memory>
#include <optional>

#include <spdlog/spdlog.h>

#include "sim/base/duration_text.hpp"
#include "sim/base/quantity.hpp"
#include "sim/bench/bench.hpp"
#include "sim/bench/event_loop.hpp"
#include "sim/bench/traffic_text.hpp"
#include "sim/cli/capturing.hpp"
#include "sim/cli/commands.hpp"
#include "sim/cli/exit_code.hpp"
#include "sim/cli/output.hpp"
#include "sim/cli/stop_signals.hpp"
#include "sim/io/control/control.hpp"
#include "sim/io/files/load.hpp"
#include "sim/io/line/wall_bench.hpp"
#include "sim/io/panel/panel_hub.hpp"
#include "sim/io/panel/panel_server.hpp"
#include "sim/io/report/report.hpp"

namespace emberline::cli {
namespace {

std::string seconds_text(double seconds) { return format_duration(from_seconds(seconds)); }

/// Who answers on a line: "soak-heater (id 1), marshalling (id 20)".
std::string stations(const bench::BenchSpec& spec, std::size_t line) {
  std::string text;
  for (const auto& slave : spec.slaves_on(line))
    text += (text.empty() ? "" : ", ") + std::string(slave.name) + " (id " + std::to_string(slave.id) + ")";
  return text.empty() ? "nobody" : text;
}

std::string banner(const bench::BenchSpec& spec, const std::vector<io::OpenLine>& lines,
                   const std::string& control, const std::string& panel) {
  std::string text = spec.title + "\n";
  for (const auto& line : lines) {
    const auto index = *spec.find_line(line.name);
    const auto& line_spec = spec.lines[index];
    text += "  " + line.name + ": " + std::string(bench::to_word(line.kind)) + " " + place_of(line);
    if (bench::carries_rtu(line.kind)) text += ", " + to_text(line_spec.serial);
    text += "; answers as " + stations(spec, index) + "\n";
  }
  text += "  control: " + control + "\n" + panel;
  text +=
      "Actions: type 'cut LINE', 'restore LINE', 'cycle UNIT.terminal.enable', 'element_open UNIT.l1', 'mend "
      "UNIT', ... here or with `emberline tell`. Ctrl-C stops.\n";
  return text + std::string(cautions());
}

std::string summary(const bench::Bench& bench, const io::WallBench& wall) {
  const auto now = wall.now();
  const auto counted = wall.statistics();
  std::string text = "Stopped after " + seconds_text(std::round(to_seconds(now) * 10) / 10) + ": " +
                     std::to_string(counted.requests) + " requests, " + std::to_string(counted.faults) +
                     " broken frames, " + std::to_string(counted.connections) + " connections\n";
  for (std::size_t u = 0; u < bench.spec().units.size(); ++u) {
    const auto& unit = bench.unit(u);
    const auto timeout = unit.value(registers::Point::comms_timeout, now);
    text += "  " + unit.spec().name + ": " + std::string(to_word(unit.state())) + ", output " +
            format_quantity(unit.value(registers::Point::output, now), Dimension::ratio);
    if (timeout > 0) {
      text += "; longest wait for a request " +
              seconds_text(unit.value(registers::Point::comms_gap_longest, now)) + " of " +
              seconds_text(timeout);
    }
    text += "\n";
  }
  const auto traffic = bench::traffic_lines(bench.traffic());
  if (!traffic.empty()) text += "Traffic\n";
  for (const auto& line : traffic) text += "  " + line + "\n";
  return text;
}

void log_entry(const bench::Journal::Entry& entry) {
  spdlog::info("{:.3f} s  {}: {}", to_seconds(entry.at), entry.subject, entry.sentence);
}

void log_journal(bench::Bench& bench) {
  for (const auto& entry : bench.journal().entries()) log_entry(entry);
  bench.journal().on_entry(log_entry);
}

/// The page in the browser, if it is wanted. Made after the bench's lines are open; goes before they do.
class Panel {
 public:
  /// False, and complained of, if it is wanted and cannot open.
  [[nodiscard]] bool open(const std::optional<io::PanelAddress>& wanted, io::WallBench& wall,
                          bench::Bench& bench, const std::vector<io::OpenLine>& lines) {
    if (!wanted) return true;
    hub_.attach(wall, bench, lines);
    server_ = std::make_unique<io::PanelServer>(hub_, *wanted);
    auto opened = server_->open();
    if (!opened) {
      complain(opened.error());
      return false;
    }
    url_ = *opened;
    banner_ = panel_banner(url_, *wanted);
    return true;
  }
  Panel() = default;
  ~Panel() { close(); }
  Panel(const Panel&) = delete;
  Panel& operator=(const Panel&) = delete;
  void close() {
    if (!server_) return;
    server_.reset();
    hub_.detach();
  }
  [[nodiscard]] const std::string& url() const { return url_; }  ///< empty: it is off
  [[nodiscard]] const std::string& banner() const { return banner_; }

 private:
  io::PanelHub hub_{{.version = EMBERLINE_VERSION}};
  std::unique_ptr<io::PanelServer> server_;
  std::string url_, banner_;
};

}  // namespace

int serve(const ServeOptions& options) {
  StopSignals signals;
  auto spec = io::load_bench(options.bench);
  if (!spec) {
    complain(spec.error());
    return kInputUnusable;
  }
  const auto seed = seed_of(options.seed);
  if (!seed) return kInputUnusable;
  const auto wanted_panel = panel_address(options.panel, spec->panel);
  if (!wanted_panel) {
    complain(wanted_panel.error());
    return kInputUnusable;
  }
  bench::Bench bench(std::move(spec).value(), {options.plant_speed, *seed});
  bench::EventLoop loop;
  loop.add(bench::Rank::timers, bench.timers());
  loop.add(bench::Rank::grid, bench.grid());
  log_journal(bench);

  io::WallBench wall(bench, loop, {});
  const auto lines = wall.open();
  if (!lines) {
    complain(lines.error());
    return kSurroundingsFailed;
  }
  io::Control control(wall, bench);
  const auto control_path =
      options.control.empty() ? io::default_control_path(options.bench) : options.control;
  if (const auto listening = control.listen(control_path); !listening) {
    complain(listening.error());
    return kSurroundingsFailed;
  }
  Panel panel;
  if (!panel.open(*wanted_panel, wall, bench, *lines)) return kSurroundingsFailed;
  control.panel_at(panel.url());
  control.read_standard_input([](const std::string& answer) { print(with_line_breaks(answer) + "\n"); });
  print(banner(bench.spec(), *lines, control_path, panel.banner()));
  if (options.plant_speed != 1.0) print(plant_speed_caution(options.plant_speed));
  Capturing capturing;
  if (const auto begun = capturing.begin(options.capture, bench); !begun) {
    complain(begun.error());
    return kSurroundingsFailed;
  }
  if (!options.ready_file.empty()) {
    const auto panel_url = panel.url().empty() ? std::nullopt : std::optional(panel.url());
    const auto ready = io::ready_json(*lines, control_path, panel_url);
    if (const auto written = io::write_whole(options.ready_file, ready); !written) {
      complain(written.error());
      return kSurroundingsFailed;
    }
  }
  signals.watch([&wall] { wall.stop(); });
  wall.run();
  panel.close();
  control.close();
  const auto captured = capturing.finish();
  print(summary(bench, wall));
  if (captured) return kAllWell;
  complain(captured.error());
  return kSurroundingsFailed;
}

}  // namespace emberline::cli
