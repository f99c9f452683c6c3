#include "sim/cli/rehearse_summary.hpp"

#include <algorithm>
#include <array>
#include <cstdio>
#include <map>

#include "sim/base/quantity.hpp"

namespace emberline::cli {
namespace {

using rehearsal::Outcome;
using rehearsal::Verdict;

constexpr std::size_t kMostSeeds = 20;

/// A word as a shell takes it.
std::string in_quotes(const std::string& word) {
  constexpr std::string_view kPlain =
      "abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789_-./:+,=@%";
  if (!word.empty() && word.find_first_not_of(kPlain) == std::string::npos) return word;
  std::string text = "'";
  for (const char c : word) text += c == '\'' ? std::string("'\\''") : std::string(1, c);
  return text + "'";
}

std::string command_for(const RehearseOptions& options, const Planned& planned) {
  std::string text = "emberline rehearse " + in_quotes(options.scenarios[planned.scenario]) + " --seed " +
                     std::to_string(planned.seed);
  if (options.real_master) text += " --real-master";
  if (options.wait_given) text += " --wait-for-master " + in_quotes(options.wait_for_master);
  if (options.by_hand) text += " --by-hand";
  if (options.plant_speed != 1.0) text += " --plant-speed " + format_number(options.plant_speed);
  return text;
}

std::string seeds_text(const std::vector<std::uint64_t>& seeds) {
  std::string text = seeds.size() == 1 ? "failed with seed " : "failed with seeds ";
  for (std::size_t i = 0; i < std::min(seeds.size(), kMostSeeds); ++i)
    text += (i == 0 ? "" : ", ") + std::to_string(seeds[i]);
  if (seeds.size() > kMostSeeds) text += " and " + std::to_string(seeds.size() - kMostSeeds) + " more";
  return text;
}

}  // namespace

std::string verdict_line(const Verdict& verdict, double seconds, bool colour) {
  const char* begin = !colour ? "" : verdict.passed ? "\x1b[32m" : "\x1b[31m";
  std::array<char, 32> took{};
  std::snprintf(took.data(), took.size(), "%.1f s", seconds);
  return std::string(begin) + (verdict.passed ? "PASSED" : "FAILED") + (colour ? "\x1b[0m" : "") + "  " +
         verdict.title + " (" + took.data() + ")\n";
}

std::string failures_text(const Verdict& verdict) {
  std::string text;
  for (const auto& outcome : verdict.outcomes)
    if (outcome.result != Outcome::Result::passed)
      text += "        " + outcome.name + ": " + outcome.sentence + "\n";
  return text;
}

std::string summary_text(const RehearseOptions& options, const Plan& plan,
                         const std::vector<Verdict>& verdicts) {
  std::map<std::size_t, std::vector<std::size_t>> failed;  // by scenario: places in the plan
  std::size_t passed = 0;
  for (std::size_t i = 0; i < verdicts.size(); ++i) {
    if (verdicts[i].passed) {
      ++passed;
    } else {
      failed[plan.rehearsals[i].scenario].push_back(i);
    }
  }
  std::string text;
  for (const auto& [scenario, places] : failed) {
    text += "FAILED  " + plan.scenarios[scenario].title;
    if (plan.repeats) {
      std::vector<std::uint64_t> seeds;
      for (const auto place : places) seeds.push_back(plan.rehearsals[place].seed);
      text += ": " + seeds_text(seeds) + "\n        " + command_for(options, plan.rehearsals[places.front()]);
    }
    text += "\n";
  }
  return text + std::to_string(passed) + " of " + std::to_string(verdicts.size()) + " rehearsals passed\n";
}

}  // namespace emberline::cli
