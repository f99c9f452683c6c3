#include <algorithm>
#include <cmath>
#include <cstddef>
#include <filesystem>
#include <memory>
#include <optional>
#include <system_error>

#include <spdlog/spdlog.h>

#include "sim/base/duration_text.hpp"
#include "sim/base/quantity.hpp"
#include "sim/bench/bench.hpp"
#include "sim/bench/event_loop.hpp"
#include "sim/cli/capturing.hpp"
#include "sim/cli/commands.hpp"
#include "sim/cli/crash_report.hpp"
#include "sim/cli/exit_code.hpp"
#include "sim/cli/log_queue.hpp"
#include "sim/cli/output.hpp"
#include "sim/cli/output_queue.hpp"
#include "sim/cli/places.hpp"
#include "sim/cli/ready_file.hpp"
#include "sim/cli/reports.hpp"
#include "sim/cli/stop_signals.hpp"
#include "sim/cli/stopping.hpp"
#include "sim/io/control/control.hpp"
#include "sim/io/files/load.hpp"
#include "sim/io/line/wall_bench.hpp"
#include "sim/io/panel/panel_hub.hpp"
#include "sim/io/panel/panel_server.hpp"
#include "sim/io/report/report.hpp"
#include "sim/polling/review_text.hpp"

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

std::string summary(const bench::Bench& bench, const io::WallBench& wall, const polling::PollPlans& plans) {
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
  const auto traffic = polling::traffic_lines(bench.traffic(), plans);
  if (!traffic.empty()) text += "Traffic\n";
  for (const auto& line : traffic) text += "  " + line + "\n";
  return text;
}

void log_entry(const bench::Journal::Entry& entry) {
  spdlog::info("{:.3f} s  {}: {}", to_seconds(entry.at), entry.subject, entry.sentence);
}

/// More than a page shows of them; the log has them all.
constexpr std::size_t kJournalKept = 10'000;

void log_journal(bench::Bench& bench) {
  bench.journal().keep_newest(kJournalKept);
  for (const auto& entry : bench.journal().entries()) log_entry(entry);
  bench.journal().on_entry(log_entry);
}

/// The page in the browser, if it is wanted. Made after the bench's lines are open; goes before they do.
class Panel {
 public:
  /// The error is one line: it is wanted and cannot open.
  [[nodiscard]] Result<Done, std::string> open(const std::optional<io::PanelAddress>& wanted,
                                               io::WallBench& wall, bench::Bench& bench,
                                               const std::vector<io::OpenLine>& lines) {
    if (!wanted) return Done{};
    hub_.attach(wall, bench, lines);
    server_ = std::make_unique<io::PanelServer>(hub_, *wanted);
    auto opened = server_->open();
    if (!opened) return Failure{opened.error()};
    url_ = *opened;
    banner_ = panel_banner(url_, *wanted);
    return Done{};
  }
  explicit Panel(const polling::PollPlans& plans)
      : hub_({.version = EMBERLINE_VERSION, .traffic_lines = [plans](const bench::TrafficReview& traffic) {
                return polling::traffic_lines(traffic, plans);
              }}) {}
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
  io::PanelHub hub_;
  std::unique_ptr<io::PanelServer> server_;
  std::string url_, banner_;
};

/// What the command line says, read and found usable.
struct Order {
  bench::BenchSpec spec;
  std::uint64_t seed = 0;
  std::optional<io::PanelAddress> panel;  ///< nothing: it is off
  polling::PollPlans poll_plans;
  std::uint64_t capture_limit_B = 0;  ///< 0: none
  std::string control;
};

/// Bytes; nothing, and complained of, if that is no number of megabytes.
std::optional<std::uint64_t> capture_limit_of(const std::string& text) {
  constexpr std::uint64_t kMost_MB = 1'000'000'000;
  constexpr std::uint64_t kBytesInMegabyte = 1'000'000;
  if (const auto limit_MB = whole_number(text); limit_MB && *limit_MB <= kMost_MB)
    return *limit_MB * kBytesInMegabyte;
  complain("--capture-limit: expected a whole number of MB, 0 for no limit, found '" + text + "'");
  return std::nullopt;
}

/// The plans of the command line; nothing, and complained of, if one cannot be used with this bench.
std::optional<polling::PollPlans> read_poll_plans(const ServeOptions& options) {
  polling::PollPlans plans;
  for (const auto& file : options.poll_plans) {
    auto plan = io::load_poll_plan(file);
    if (!plan) {
      complain(plan.error());
      return std::nullopt;
    }
    std::error_code error;
    const auto is_it = [&](const std::string& other) {
      return std::filesystem::equivalent(other, file, error);
    };
    const auto here = options.poll_plans.begin() + static_cast<std::ptrdiff_t>(plans.size());
    if (std::any_of(options.poll_plans.begin(), here, is_it)) {
      complain("--poll-plan " + file + ": is given already; expected each plan once");
      return std::nullopt;
    }
    if (!std::filesystem::equivalent(plan->wish.bench_file, options.bench, error)) {
      complain("--poll-plan " + file + ": is made for the bench " + plan->wish.bench_file + ", not for " +
               options.bench);
      return std::nullopt;
    }
    plans.push_back(std::make_shared<const polling::PollPlan>(std::move(plan).value()));
  }
  return plans;
}

/// False, and complained of, if it would write over what it reads, or two things into one place.
bool nothing_overwritten(const ServeOptions& options, const Order& order) {
  auto inputs = with_its_tables(options.bench, order.spec);
  inputs.insert(inputs.end(), options.poll_plans.begin(), options.poll_plans.end());
  inputs.push_back(options.panel.token_file);
  const bool set_aside = !options.capture.empty() && order.capture_limit_B > 0;
  return each_by_itself(
      {{"--control", order.control},
       {"--ready-file", options.ready_file},
       {"--capture", options.capture},
       {"--capture (its older half)", set_aside ? io::Capture::older_part(options.capture) : ""}},
      inputs);
}

/// Nothing, and complained of, if something cannot be used.
std::optional<Order> read_order(const ServeOptions& options) {
  auto spec = io::load_bench(options.bench);
  if (!spec) {
    complain(spec.error());
    return std::nullopt;
  }
  const auto seed = seed_of(options.seed);
  if (!seed) return std::nullopt;
  const auto capture_limit_B = capture_limit_of(options.capture_limit);
  if (!capture_limit_B) return std::nullopt;
  auto panel = panel_address(options.panel, spec->panel);
  if (!panel) {
    complain(panel.error());
    return std::nullopt;
  }
  auto plans = read_poll_plans(options);
  if (!plans) return std::nullopt;
  Order order{std::move(spec).value(),
              *seed,
              std::move(panel).value(),
              std::move(*plans),
              *capture_limit_B,
              options.control.empty() ? io::default_control_path(options.bench) : options.control};
  if (!nothing_overwritten(options, order)) return std::nullopt;
  return order;
}

/// A bench with all through which it is reached from outside, from its opening to its end.
class Service {
 public:
  /// `out` gets what is said while it runs, and must outlive it.
  Service(const ServeOptions& options, Order order, OutputQueue& out)
      : options_(options),
        out_(out),
        wanted_panel_(std::move(order.panel)),
        plans_(std::move(order.poll_plans)),
        capture_limit_B_(order.capture_limit_B),
        control_path_(std::move(order.control)),
        bench_(std::move(order.spec), {options.plant_speed, order.seed}),
        wall_(bench_, loop_, {}),
        control_(wall_, bench_),
        panel_(plans_),
        ready_file_(options.ready_file) {
    control_.hold_against(plans_);
    loop_.add(bench::Rank::timers, bench_.timers());
    loop_.add(bench::Rank::grid, bench_.grid());
    log_journal(bench_);
  }
  /// Lines, hands, panel, capture; when the ready file is there, all of them are. The error is one line.
  [[nodiscard]] Result<Done, std::string> open() {
    auto lines = wall_.open();
    if (!lines) return Failure{lines.error()};
    if (auto listening = control_.listen(control_path_); !listening) return listening;
    if (auto opened = panel_.open(wanted_panel_, wall_, bench_, *lines); !opened) return opened;
    control_.panel_at(panel_.url());
    control_.read_standard_input(
        [this](const std::string& answer) { out_.print(with_line_breaks(answer) + "\n"); });
    out_.print(banner(bench_.spec(), *lines, control_path_, panel_.banner()));
    if (options_.plant_speed != 1.0) out_.print(plant_speed_caution(options_.plant_speed));
    if (auto begun = capturing_.begin(options_.capture, bench_, capture_limit_B_); !begun) return begun;
    return write_ready_file(*lines);
  }
  /// Until `stopping` is asked.
  void run(Stopping& stopping) {
    const Stopping::Hook stop(stopping, [this] { wall_.stop(); });
    wall_.run();
  }
  /// Lets go of all that was opened, and says what came of it. The error is one line about the capture.
  [[nodiscard]] Result<Done, std::string> close() {
    ready_file_.remove();
    panel_.close();
    control_.close();
    auto captured = capturing_.finish();
    out_.print(summary(bench_, wall_, plans_));
    return captured;
  }

 private:
  [[nodiscard]] Result<Done, std::string> write_ready_file(const std::vector<io::OpenLine>& lines) {
    if (!ready_file_.wanted()) return Done{};
    const auto url = panel_.url().empty() ? std::nullopt : std::optional(panel_.url());
    return ready_file_.write(io::ready_json(lines, control_path_, url));
  }

  const ServeOptions& options_;
  OutputQueue& out_;
  std::optional<io::PanelAddress> wanted_panel_;
  polling::PollPlans plans_;
  std::uint64_t capture_limit_B_;
  std::string control_path_;
  bench::Bench bench_;
  bench::EventLoop loop_;
  const Running running_{loop_, {}};
  io::WallBench wall_;
  io::Control control_;
  Panel panel_;
  Capturing capturing_;
  ReadyFile ready_file_;
};

/// From the opening of what is in `order` to its end, which `stopping` asks for.
Result<Done, std::string> run(const ServeOptions& options, Order order, Stopping& stopping,
                              OutputQueue& out) {
  Service service(options, std::move(order), out);
  if (auto opened = service.open(); !opened) return opened;
  service.run(stopping);
  return service.close();
}

}  // namespace

int serve(const ServeOptions& options) {
  Stopping stopping;
  StopSignals signals;
  auto order = read_order(options);
  if (!order) return kInputUnusable;
  signals.watch([&stopping] { stopping.ask(); });
  OutputQueue out(kLimitsOfALog);  // last to go: it may be that nobody reads
  const LogQueue log(out);
  const auto done = run(options, std::move(*order), stopping, out);
  if (!done) out.complain(done.error());
  return done ? kAllWell : kSurroundingsFailed;
}

}  // namespace emberline::cli
