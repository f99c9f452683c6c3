#include "sim/cli/rehearse_plan.hpp"

#include <algorithm>
#include <limits>
#include <set>
#include <thread>
#include <utility>

#include <fcntl.h>
#include <unistd.h>

#include "sim/base/quantity.hpp"
#include "sim/cli/output.hpp"
#include "sim/io/files/load.hpp"

namespace emberline::cli {
namespace {

using rehearsal::ScenarioSpec;

constexpr std::uint64_t kMostJobs = 256;
constexpr std::uint64_t kMostShards = 10'000;
constexpr std::uint64_t kMostRepeats = 100'000;
constexpr double kLongestWait_s = 24 * 3600.0;

/// The seeds of every file: `repeats` of them from `first` on.
struct Seeds {
  std::uint64_t first = 1;
  std::uint64_t repeats = 1;
};

std::optional<Seeds> seeds_of(const RehearseOptions& options) {
  if (options.repeat.empty()) {
    if (!options.seed_from.empty()) {
      complain("--seed-from: is the first seed of --repeat, which is not there; expected --seed");
      return std::nullopt;
    }
    const auto seed = seed_of(options.seed);
    return seed ? std::optional(Seeds{*seed, 1}) : std::nullopt;
  }
  if (options.seed_given) {
    complain("--repeat: takes its seeds from --seed-from on and goes not with --seed, which is one seed");
    return std::nullopt;
  }
  const auto repeats = whole_number(options.repeat);
  if (!repeats || *repeats < 1 || *repeats > kMostRepeats) {
    complain("--repeat: expected a whole number from 1 to " + std::to_string(kMostRepeats) + ", found '" +
             options.repeat + "'");
    return std::nullopt;
  }
  const auto first =
      options.seed_from.empty() ? std::optional<std::uint64_t>(1) : whole_number(options.seed_from);
  const auto highest = std::numeric_limits<std::uint64_t>::max() - (*repeats - 1);
  if (!first || *first > highest) {
    complain("--seed-from: expected a whole number from 0 to " + std::to_string(highest) + ", found '" +
             options.seed_from + "'");
    return std::nullopt;
  }
  return Seeds{*first, *repeats};
}

std::optional<std::size_t> jobs_of(const RehearseOptions& options) {
  const auto jobs = whole_number(options.jobs);
  if (!jobs || *jobs > kMostJobs) {
    complain("-j: expected how many rehearsals at a time, 1 to " + std::to_string(kMostJobs) +
             ", or 0 for as many as there are cores, found '" + options.jobs + "'");
    return std::nullopt;
  }
  const std::size_t number = *jobs == 0 ? std::max(1U, std::thread::hardware_concurrency()) : *jobs;
  if (*jobs == 1) return number;
  const char* one_at_a_time = options.real_master        ? "--real-master: one bench has the lines at a time"
                              : !options.capture.empty() ? "--capture: a capture is of one rehearsal"
                              : options.by_hand          ? "--by-hand: a human does one thing at a time"
                                                         : nullptr;
  if (one_at_a_time == nullptr) return number;
  complain("-j: goes not with " + std::string(one_at_a_time));
  return std::nullopt;
}

std::optional<Duration> wait_of(const RehearseOptions& options) {
  if (!options.real_master) {
    if (!options.wait_given) return Duration{};
    complain("--wait-for-master: is for --real-master; stand-ins are there from the start");
    return std::nullopt;
  }
  const auto seconds = parse_quantity(options.wait_for_master, Dimension::time);
  if (!seconds) {
    complain("--wait-for-master: " + seconds.error());
    return std::nullopt;
  }
  if (*seconds < 0 || *seconds > kLongestWait_s) {
    complain("--wait-for-master: expected 0 s (time runs at once) to 24 h, found '" +
             options.wait_for_master + "'");
    return std::nullopt;
  }
  return from_seconds(*seconds);
}

std::optional<std::vector<ScenarioSpec>> load_all(const std::vector<std::string>& files) {
  std::vector<ScenarioSpec> scenarios;
  std::set<std::string> said;
  bool all_good = true;
  for (const auto& file : files) {
    auto scenario = io::load_scenario(file);
    if (scenario) {
      scenarios.push_back(std::move(scenario).value());
      continue;
    }
    all_good = false;
    io::Problems fresh;  // two scenarios on one broken bench would say everything twice
    for (const auto& problem : scenario.error())
      if (said.insert(to_text(problem)).second) fresh.push_back(problem);
    complain(fresh);
  }
  if (!all_good) return std::nullopt;
  return scenarios;
}

/// True if what is asked for can be had on the clocks of the scenarios.
bool clocks_fit(const RehearseOptions& options, const std::vector<ScenarioSpec>& scenarios) {
  const auto stepped = std::find_if(scenarios.begin(), scenarios.end(), [&](const ScenarioSpec& scenario) {
    return !on_wall_clock(scenario, options);
  });
  if (stepped == scenarios.end()) return true;
  if (options.plant_speed != 1.0) {
    complain("--plant-speed is for the wall clock; '" + stepped->title +
             "' runs in stepped time, which waits for nothing");
    return false;
  }
  if (options.by_hand) {
    complain("--by-hand is for the wall clock; '" + stepped->title +
             "' runs in stepped time, which waits for no human (expected --real-master, or clock: wall)");
    return false;
  }
  return true;
}

bool human_possible(const RehearseOptions& options, const std::vector<ScenarioSpec>& scenarios) {
  if (!options.by_hand) return true;
  const bool asks = std::any_of(scenarios.begin(), scenarios.end(), [](const ScenarioSpec& scenario) {
    return std::any_of(scenario.timeline.begin(), scenario.timeline.end(),
                       [](const rehearsal::TimelineEntry& entry) { return !entry.ask.empty(); });
  });
  if (asks) return true;
  complain("--by-hand: no entry of the timeline has 'ask', so there is nothing for a human to do");
  return false;
}

bool one_rehearsal(const RehearseOptions& options, std::size_t listed) {
  const char* of_one = !options.capture.empty()      ? "--capture"
                       : !options.save_state.empty() ? "--save-state"
                                                     : nullptr;
  if (of_one != nullptr && !options.shard.empty()) {
    complain(std::string(of_one) + ": goes not with --shard, whose part may be without a rehearsal");
    return false;
  }
  if (listed == 1) return true;
  const auto refuse = [&](const char* what) {
    complain(std::string(what) + " is of one rehearsal, found " + std::to_string(listed));
    return false;
  };
  if (!options.capture.empty()) return refuse("--capture: a capture");
  if (!options.save_state.empty()) return refuse("--save-state: a state");
  return true;
}

}  // namespace

Result<Shard, std::string> parse_shard(const std::string& text) {
  const auto slash = text.find('/');
  const auto number = whole_number(std::string_view(text).substr(0, slash));
  const auto of =
      slash == std::string::npos ? std::nullopt : whole_number(std::string_view(text).substr(slash + 1));
  if (number && of && *number >= 1 && *number <= *of && *of <= kMostShards) return Shard{*number, *of};
  return Failure{"--shard: expected K/N, the K-th of N parts, such as 2/5 (K from 1 to N, N up to " +
                 std::to_string(kMostShards) + "), found '" + text + "'"};
}

std::vector<Planned> listed_rehearsals(std::size_t scenarios, std::uint64_t first_seed, std::uint64_t repeats,
                                       Shard shard) {
  std::vector<Planned> planned;
  std::uint64_t place = 0;
  for (std::size_t scenario = 0; scenario < scenarios; ++scenario)
    for (std::uint64_t repeat = 0; repeat < repeats; ++repeat)
      if (place++ % shard.of == shard.number - 1) planned.push_back({scenario, first_seed + repeat});
  return planned;
}

bool on_wall_clock(const ScenarioSpec& scenario, const RehearseOptions& options) {
  return options.real_master || scenario.clock == rehearsal::Clock::wall;
}

std::optional<Plan> plan_rehearsals(const RehearseOptions& options) {
  const auto seeds = seeds_of(options);
  const auto jobs = jobs_of(options);
  const auto wait = wait_of(options);
  const auto shard = options.shard.empty() ? Result<Shard, std::string>(Shard{}) : parse_shard(options.shard);
  if (!shard) complain(shard.error());
  if (!seeds || !jobs || !wait || !shard) return std::nullopt;
  // A program that is started without standard input opens its first file in that place.
  if (options.by_hand && ::fcntl(STDIN_FILENO, F_GETFD) < 0) {
    complain("--by-hand: standard input is closed; expected a terminal, where Enter confirms what was done");
    return std::nullopt;
  }
  Plan plan;
  plan.jobs = *jobs;
  plan.repeats = !options.repeat.empty();
  plan.wait_for_master = *wait;
  if (!options.shard.empty()) plan.shard = *shard;
  plan.listed = options.scenarios.size() * seeds->repeats;
  if (!one_rehearsal(options, plan.listed)) return std::nullopt;
  auto scenarios = load_all(options.scenarios);
  if (!scenarios || !clocks_fit(options, *scenarios) || !human_possible(options, *scenarios))
    return std::nullopt;
  plan.scenarios = std::move(*scenarios);
  plan.rehearsals = listed_rehearsals(plan.scenarios.size(), seeds->first, seeds->repeats, *shard);
  return plan;
}

}  // namespace emberline::cli
