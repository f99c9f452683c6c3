#include "sim/cli/places.hpp"

#include <cerrno>
#include <cstring>
#include <filesystem>
#include <system_error>

#include <unistd.h>

#include "sim/cli/output.hpp"
#include "sim/cli/reports.hpp"
#include "sim/io/report/report.hpp"

namespace emberline::cli {
namespace {

namespace fs = std::filesystem;

/// Why nothing can be written there; nothing if it can.
std::optional<std::string> in_the_way(const Place& place) {
  std::error_code ignored;
  const fs::path path(place.path);
  const auto status = fs::status(path, ignored);
  const bool there = fs::exists(status);
  if (place.folder && there && !fs::is_directory(status)) return "is no folder";
  if (!place.folder && fs::is_directory(status)) return "is a folder; expected a file";
  if (!place.folder)
    if (auto reason = io::why_not_replaced(place.path)) return reason;
  auto folder = place.folder && there ? path : led_to(place.path).parent_path();
  if (!fs::is_directory(folder, ignored))
    return "cannot be written: there is no folder " + path.parent_path().string();
  if (::access(folder.c_str(), W_OK | X_OK) != 0)
    return std::string("cannot be written: ") + std::strerror(errno);
  return std::nullopt;
}

}  // namespace

bool each_by_itself(const std::vector<Place>& places, const std::vector<std::string>& inputs) {
  for (std::size_t i = 0; i < places.size(); ++i) {
    if (places[i].path.empty()) continue;
    const std::string mine = places[i].option + ": " + places[i].path;
    for (std::size_t other = 0; other < i; ++other) {
      if (places[other].path.empty() || !same_file(places[i].path, places[other].path)) continue;
      complain(mine + " is what " + places[other].option + " writes too; expected another file");
      return false;
    }
    for (const auto& input : inputs) {
      if (input.empty() || !same_file(places[i].path, input)) continue;
      complain(mine + " is an input of this run and would be overwritten; expected another file");
      return false;
    }
  }
  return true;
}

std::optional<ExitCode> places_refused(const std::vector<Place>& places,
                                       const std::vector<std::string>& inputs) {
  if (!each_by_itself(places, inputs)) return kInputUnusable;
  for (const auto& place : places) {
    if (place.path.empty()) continue;
    const auto problem = in_the_way(place);
    if (!problem) continue;
    complain(place.option + ": " + place.path + " " + *problem);
    return kSurroundingsFailed;
  }
  return std::nullopt;
}

}  // namespace emberline::cli
