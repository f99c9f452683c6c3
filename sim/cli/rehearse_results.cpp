#include "sim/cli/rehearse_results.hpp"

#include <cerrno>
#include <cstring>
#include <filesystem>
#include <string>
#include <system_error>

#include <unistd.h>

#include "sim/cli/output.hpp"
#include "sim/cli/reports.hpp"

namespace emberline::cli {
namespace {

namespace fs = std::filesystem;
using rehearsal::Verdict;

/// A place that something is to be written to.
struct Place {
  const char* option;
  const std::string& path;
  bool folder = false;
};

std::vector<Place> places_of(const RehearseOptions& options) {
  std::vector<Place> asked_for;
  for (const Place& place : {Place{"--junit", options.junit}, Place{"--json", options.json},
                             Place{"--report", options.report}, Place{"--trends", options.trends, true},
                             Place{"--capture", options.capture}, Place{"--save-state", options.save_state}})
    if (!place.path.empty()) asked_for.push_back(place);
  return asked_for;
}

/// Why nothing can be written there; nothing if it can.
std::optional<std::string> in_the_way(const Place& place) {
  std::error_code ignored;
  const fs::path path(place.path);
  const auto status = fs::status(path, ignored);
  const bool there = fs::exists(status);
  if (place.folder && there && !fs::is_directory(status)) return "is no folder";
  if (!place.folder && fs::is_directory(status)) return "is a folder; expected a file";
  if (!place.folder && there && !fs::is_regular_file(status))
    return "is a device or pipe; expected a file, which is put in place whole";
  auto folder = place.folder && there ? path : led_to(place.path).parent_path();
  if (!fs::is_directory(folder, ignored))
    return "cannot be written: there is no folder " + path.parent_path().string();
  if (::access(folder.c_str(), W_OK | X_OK) != 0)
    return std::string("cannot be written: ") + std::strerror(errno);
  return std::nullopt;
}

}  // namespace

std::optional<ExitCode> results_refused(const RehearseOptions& options, const Plan& plan) {
  const auto places = places_of(options);
  for (std::size_t i = 0; i < places.size(); ++i) {
    const std::string mine = std::string(places[i].option) + ": " + places[i].path;
    for (std::size_t other = 0; other < i; ++other) {
      if (!same_file(places[i].path, places[other].path)) continue;
      complain(mine + " is what " + places[other].option + " writes too; expected another file");
      return kInputUnusable;
    }
    auto inputs = options.scenarios;
    for (const auto& scenario : plan.scenarios)
      for (const auto& file : scenario.files) inputs.push_back(file.path);
    for (const auto& input : inputs) {
      if (!same_file(places[i].path, input)) continue;
      complain(mine + " is an input of this run and would be overwritten; expected another file");
      return kInputUnusable;
    }
  }
  for (const auto& place : places) {
    const auto problem = in_the_way(place);
    if (!problem) continue;
    complain(std::string(place.option) + ": " + place.path + " " + *problem);
    return kSurroundingsFailed;
  }
  return std::nullopt;
}

bool write_results(const RehearseOptions& options, const Plan& plan, const std::vector<Verdict>& verdicts) {
  std::optional<io::ShardPlace> place;
  if (plan.shard) place = {plan.shard->number, plan.shard->of, plan.listed};
  return write_reports({options.junit, options.json, options.report, options.trends}, verdicts, place);
}

}  // namespace emberline::cli
