#include "sim/rehearsal/unknown_signal.hpp"

#include <algorithm>
#include <vector>

#include "sim/base/diagnostic.hpp"
#include "sim/base/listed.hpp"
#include "sim/bench/signal.hpp"

namespace emberline::rehearsal {
namespace {

constexpr std::size_t kMostListed = 12;
/// No name of ours is longer; the search for a near one stays bounded.
constexpr std::size_t kLongestName = 120;

std::string listed(const std::vector<std::string>& names) {
  std::string text;
  for (std::size_t i = 0; i < std::min(names.size(), kMostListed); ++i)
    text += (i > 0 ? ", " : "") + names[i];
  return names.size() > kMostListed ? text + ", ..." : text;
}

}  // namespace

std::string unknown_signal(const bench::BenchSpec& spec, std::string_view name) {
  name = name.substr(0, kLongestName);
  const auto dot = name.find('.');
  const std::string head(name.substr(0, dot));
  const std::string_view rest = dot == std::string_view::npos ? std::string_view{} : name.substr(dot + 1);
  std::vector<std::string> heads;
  std::vector<std::string> rests;  // what the named unit, zone, ... has
  for (const auto& known : bench::all_signal_names(spec)) {
    const auto at = known.find('.');
    if (heads.empty() || heads.back() != known.substr(0, at)) heads.push_back(known.substr(0, at));
    if (known.substr(0, at) == head) rests.push_back(known.substr(at + 1));
  }
  const std::string text = "unknown signal " + in_quotes(name);
  if (rests.empty()) {
    const auto near = nearest(head, heads);
    const auto instead =
        dot == std::string_view::npos ? std::string(near) : std::string(near) + "." + std::string(rest);
    if (!near.empty() && bench::find_signal(spec, instead))
      return text + ", did you mean " + in_quotes(instead) + "?";
    return text + ": the bench has no " + in_quotes(head) + ", it has: " + listed(heads);
  }
  const auto near = nearest(rest, rests);
  if (!near.empty()) return text + ", did you mean " + in_quotes(head + "." + std::string(near)) + "?";
  return text + "; " + in_quotes(head) + " has: " + listed(rests);
}

}  // namespace emberline::rehearsal
