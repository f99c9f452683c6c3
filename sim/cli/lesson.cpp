#include <functional>
#include <memory>
#include <optional>
#include <string>
#include <utility>
#include <vector>

#include "sim/base/duration_text.hpp"
#include "sim/base/quantity.hpp"
#include "sim/cli/commands.hpp"
#include "sim/cli/crash_report.hpp"
#include "sim/cli/exit_code.hpp"
#include "sim/cli/log_queue.hpp"
#include "sim/cli/output.hpp"
#include "sim/cli/output_queue.hpp"
#include "sim/cli/places.hpp"
#include "sim/cli/ready_file.hpp"
#include "sim/cli/stop_signals.hpp"
#include "sim/cli/stopping.hpp"
#include "sim/cli/wall_stand_ins.hpp"
#include "sim/io/files/load.hpp"
#include "sim/io/panel/lesson_run.hpp"
#include "sim/io/panel/panel_hub.hpp"
#include "sim/io/panel/panel_server.hpp"
#include "sim/io/panel/recovery.hpp"
#include "sim/io/report/report.hpp"
#include "sim/unit/state.hpp"

namespace emberline::cli {
namespace {

using rehearsal::ScenarioSpec;

/// Takes the time to recover, after every instant.
class RecoveryWatch final : public bench::EventSource {
 public:
  explicit RecoveryWatch(const bench::Bench& bench) : bench_(bench), units_(bench.spec().units.size()) {}
  [[nodiscard]] std::optional<SimTime> next() const override { return std::nullopt; }
  void run(SimTime now) override {
    for (std::size_t u = 0; u < units_.size(); ++u) {
      const auto& unit = bench_.unit(u);
      units_[u] = {unit::delivers(unit.state()), unit.value(registers::Point::output, now) > 0.0};
    }
    recovery_.look(now, units_);
  }
  /// How long it took; nothing: nothing was lost, or it is not back.
  [[nodiscard]] std::optional<Duration> took() const {
    if (!recovery_.back_at()) return std::nullopt;
    return recovery_.length(*recovery_.back_at());
  }

 private:
  const bench::Bench& bench_;
  std::vector<io::Recovery::Unit> units_;
  io::Recovery recovery_;
};

std::string banner(const ScenarioSpec& scenario, const std::vector<io::OpenLine>& lines, bool real_master,
                   const std::string& url, const std::string& panel) {
  std::string text =
      scenario.title + ": a lesson of " + std::to_string(scenario.lesson.size()) + " steps\n" + panel;
  text += "  for the class: " + url + "class\n";
  if (real_master) {
    for (const auto& line : lines)
      text += "  " + line.name + ": your master connects to " + place_of(line) + "\n";
  }
  return text + "Open the panel in a browser; the steps are there. Ctrl-C stops.\n" + std::string(cautions());
}

std::string summary(const io::LessonRun::Summary& lesson, std::optional<Duration> recovery) {
  std::string text =
      lesson.done ? "The lesson is through"
                  : "Stopped at step " + std::to_string(lesson.place) + " of " + std::to_string(lesson.of);
  text += lesson.score.asked == 0 ? ": nothing was predicted"
                                  : ": " + std::to_string(lesson.score.right) + " of " +
                                        std::to_string(lesson.score.asked) + " predictions right";
  if (recovery) text += "; " + format_duration(*recovery) + " to recover";
  text += "\n";
  if (lesson.outcomes.empty()) return text + "No verdict: that comes with the last step\n";
  std::size_t passed = 0;
  for (const auto& outcome : lesson.outcomes) {
    if (outcome.result == rehearsal::Outcome::Result::passed) {
      ++passed;
    } else {
      text += "  " + outcome.name + ": " + outcome.sentence + "\n";
    }
  }
  const std::string met =
      std::to_string(passed) + " of " + std::to_string(lesson.outcomes.size()) + " expectations met";
  if (lesson.made) return text + met + " at this pace; for a verdict, `emberline rehearse` the file\n";
  return text + (rehearsal::none_failed(lesson.outcomes) ? "PASSED  " : "FAILED  ") + met + "\n";
}

/// A lesson and the panel it is shown in, over as many runs of its bench as it takes.
class Course {
 public:
  /// `out` gets what is said while it runs, and must outlive it.
  Course(const LessonOptions& options, const ScenarioSpec& scenario, std::uint64_t seed,
         io::PanelAddress address, OutputQueue& out)
      : options_(options),
        out_(out),
        scenario_(scenario),
        seed_(seed),
        address_(std::move(address)),
        lesson_(scenario),
        hub_({.version = EMBERLINE_VERSION, .blind = options.blind}),
        server_(hub_, address_),
        ready_file_(options.ready_file) {
    hub_.teach(lesson_);
  }
  /// Runs until `stopping` is asked; the error is one line about the surroundings.
  [[nodiscard]] Result<Done, std::string> run(Stopping& stopping) {
    do {
      if (auto ran = run_once(stopping); !ran) return ran;
    } while (lesson_.starts_over() && !stopping.asked());
    ready_file_.remove();
    server_.close();
    return Done{};
  }
  [[nodiscard]] std::string summary() const { return cli::summary(lesson_.summary(), recovery_); }

 private:
  [[nodiscard]] Result<Done, std::string> run_once(Stopping& stopping);
  /// The page opens when there is something to see, and stays.
  [[nodiscard]] Result<Done, std::string> show(const std::vector<io::OpenLine>& lines);
  /// A master that found its line once finds it there after a new start.
  void keep_ports(const std::vector<io::OpenLine>& lines);

  const LessonOptions& options_;
  OutputQueue& out_;
  ScenarioSpec scenario_;  ///< with the ports that were taken for it, once they are
  std::uint64_t seed_;
  io::PanelAddress address_;
  io::LessonRun lesson_;
  io::PanelHub hub_;
  io::PanelServer server_;
  ReadyFile ready_file_;
  std::string url_;
  std::optional<Duration> recovery_;
};

Result<Done, std::string> Course::show(const std::vector<io::OpenLine>& lines) {
  if (url_.empty()) {
    auto opened = server_.open();
    if (!opened) return Failure{opened.error()};
    url_ = std::move(opened).value();
    out_.print(banner(scenario_, lines, options_.real_master, url_, panel_banner(url_, address_)));
    if (options_.plant_speed != 1.0) out_.print(plant_speed_caution(options_.plant_speed));
  }
  if (!ready_file_.wanted()) return Done{};
  return ready_file_.write(io::ready_json(lines, {}, url_));
}

void Course::keep_ports(const std::vector<io::OpenLine>& lines) {
  if (!options_.real_master) return;
  for (const auto& line : lines) {
    auto& spec = scenario_.bench.lines[*scenario_.bench.find_line(line.name)];
    if (bench::over_tcp(spec.kind)) spec.port = line.port;
  }
}

Result<Done, std::string> Course::run_once(Stopping& stopping) {
  rehearsal::Rehearsal rehearsal(scenario_, seed_, {options_.plant_speed});
  const Running running(rehearsal.loop(), scenario_.file_stem + ", seed " + std::to_string(seed_));
  RecoveryWatch recovery(rehearsal.bench());
  rehearsal.loop().add(bench::Rank::expectations, recovery);
  io::WallBench::Options line_options;
  line_options.private_lines = !options_.real_master;
  io::WallBench wall(rehearsal.bench(), rehearsal.loop(), line_options);
  const auto lines = wall.open();
  if (!lines) return Failure{lines.error()};
  keep_ports(*lines);
  // On real lines a master is known by the line, or by the address, it comes from: never by its name.
  rehearsal.let_any_master_count();
  hub_.attach(wall, rehearsal.bench(), *lines);
  lesson_.attach(rehearsal, {[&wall](std::function<void(SimTime)> task) { wall.post(std::move(task)); },
                             [&wall] { wall.stop(); }});
  auto shown = show(*lines);
  if (shown) {
    std::unique_ptr<io::WallMasters> masters;
    if (!options_.real_master)
      masters = start_stand_ins(scenario_, wall, rehearsal.bench().journal(), *lines);
    const Stopping::Hook stop(stopping, [&wall] { wall.stop(); });
    wall.run();
  }
  lesson_.detach();
  hub_.detach();
  recovery_ = recovery.took();
  return shown;
}

}  // namespace

int lesson(const LessonOptions& options) {
  Stopping stopping;
  StopSignals signals;
  auto loaded = io::load_scenario(options.scenario);
  if (!loaded) {
    complain(loaded.error());
    return kInputUnusable;
  }
  const auto seed = seed_of(options.seed);
  if (!seed) return kInputUnusable;
  const auto wanted = panel_address(options.panel, loaded->bench.panel);
  if (!wanted) {
    complain(wanted.error());
    return kInputUnusable;
  }
  if (!*wanted) {
    complain("a lesson is walked through in the panel, which is off; expected --panel [HOST:]PORT");
    return kInputUnusable;
  }
  std::vector<std::string> inputs{options.scenario, options.panel.token_file};
  for (const auto& file : loaded->files) inputs.push_back(file.path);
  if (!each_by_itself({{"--ready-file", options.ready_file}}, inputs)) return kInputUnusable;
  const auto scenario = rehearsal::as_lesson(std::move(loaded).value());
  signals.watch([&stopping] { stopping.ask(); });
  OutputQueue out(kLimitsOfALog);  // last to go: it may be that nobody reads
  const LogQueue log(out);
  Course course(options, scenario, *seed, **wanted, out);
  if (const auto ran = course.run(stopping); !ran) {
    out.complain(ran.error());
    return kSurroundingsFailed;
  }
  out.print(course.summary());
  return kAllWell;
}

}  // namespace emberline::cli
