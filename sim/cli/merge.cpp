#include <algorithm>
#include <filesystem>
#include <fstream>
#include <map>
#include <sstream>
#include <system_error>
#include <tuple>

#include "sim/cli/commands.hpp"
#include "sim/cli/exit_code.hpp"
#include "sim/cli/output.hpp"
#include "sim/cli/places.hpp"
#include "sim/cli/reports.hpp"
#include "sim/io/report/report.hpp"

namespace emberline::cli {
namespace {

using rehearsal::Verdict;

/// A file and what it holds.
struct Shard {
  std::string path;
  io::VerdictsFile held;
};

/// What is read of one file; nothing after a complaint.
std::optional<io::VerdictsFile> read_shard(const std::string& path) {
  std::error_code error;
  const auto status = std::filesystem::status(path, error);
  if (!std::filesystem::exists(status)) {
    complain(path + ": no such file");
    return std::nullopt;
  }
  if (!std::filesystem::is_regular_file(status)) {
    complain(path + ": is not a plain file");
    return std::nullopt;
  }
  std::ifstream file(path, std::ios::binary);
  std::ostringstream text;
  text << file.rdbuf();
  if (!file.is_open() || file.bad()) {
    complain(path + ": cannot be read");
    return std::nullopt;
  }
  auto verdicts = io::verdicts_from_json(std::move(text).str());
  if (verdicts) return std::move(verdicts).value();
  complain(path + ": " + verdicts.error());
  return std::nullopt;
}

std::string part_text(const io::ShardPlace& place) {
  return "part " + std::to_string(place.part) + " of " + std::to_string(place.of);
}

/// How many rehearsals of the list fall to a shard.
std::uint64_t share_of(const io::ShardPlace& place) {
  return place.listed / place.of + (place.part <= place.listed % place.of ? 1 : 0);
}

/// True if the shard is a part of the same run as the first of all; complains otherwise.
bool belongs(const Shard& shard, const Shard& first) {
  if (!shard.held.shard || !first.held.shard) {
    const auto& whole = shard.held.shard ? first : shard;
    const auto& part = shard.held.shard ? shard : first;
    complain(whole.path + ": is no part of a run, " + part.path +
             " is; expected all parts of one run, or whole runs");
    return false;
  }
  const auto& place = *shard.held.shard;
  if (place.of != first.held.shard->of || place.listed != first.held.shard->listed) {
    complain(shard.path + ": is " + part_text(place) + " of a run of " + std::to_string(place.listed) +
             " rehearsals, but " + first.path + " is " + part_text(*first.held.shard) + " of one of " +
             std::to_string(first.held.shard->listed));
    return false;
  }
  if (shard.held.verdicts.size() == share_of(place)) return true;
  complain(shard.path + ": holds " + std::to_string(shard.held.verdicts.size()) +
           " rehearsals, expected the " + std::to_string(share_of(place)) + " of " + part_text(place) +
           " of " + std::to_string(place.listed));
  return false;
}

/// True if every part is there; complains of those that are not.
bool none_missing(const std::map<std::uint64_t, const Shard*>& parts, std::uint64_t of) {
  constexpr std::size_t kMostNamed = 10;
  if (parts.size() == of) return true;
  const auto missing = of - parts.size();
  std::string text = missing == 1 ? "part" : "parts";
  std::size_t named = 0;
  for (std::uint64_t part = 1; part <= of && named < kMostNamed; ++part)
    if (!parts.contains(part)) text += (named++ == 0 ? " " : ", ") + std::to_string(part);
  if (missing > named) text += " and " + std::to_string(missing - named) + " more";
  complain("not all shards are there: " + text + " of " + std::to_string(of) +
           (missing == 1 ? " is" : " are") + " missing");
  return false;
}

/// All parts of a run, each once; in the order in which the run listed them.
std::optional<std::vector<Verdict>> merged_parts(std::vector<Shard>& shards) {
  std::map<std::uint64_t, const Shard*> parts;
  bool all_good = true;
  for (const auto& shard : shards) {
    if (!belongs(shard, shards.front())) {
      all_good = false;
      continue;
    }
    const auto [first, fresh] = parts.emplace(shard.held.shard->part, &shard);
    if (fresh) continue;
    complain(shard.path + ": is " + part_text(*shard.held.shard) + ", which " + first->second->path +
             " is, too");
    all_good = false;
  }
  if (!all_good || !none_missing(parts, shards.front().held.shard->of)) return std::nullopt;
  std::vector<Verdict> verdicts(shards.front().held.shard->listed);  // as many as they hold, by now
  for (auto& shard : shards) {
    auto place = shard.held.shard->part - 1;
    for (auto& verdict : shard.held.verdicts) {
      verdicts[place] = std::move(verdict);
      place += shard.held.shard->of;
    }
  }
  return verdicts;
}

/// What tells a rehearsal from others: two of one name may lie in two folders, and be of two benches.
auto identity_of(const Verdict& verdict) {
  std::vector<std::string> digests;
  for (const auto& file : verdict.files) digests.push_back(file.sha256);
  return std::tuple{verdict.file_stem, verdict.seed, std::move(digests), verdict.real_master};
}

/// Whole runs, of which none may have a rehearsal of another.
std::optional<std::vector<Verdict>> merged_runs(std::vector<Shard>& runs) {
  std::vector<Verdict> verdicts;
  std::map<decltype(identity_of({})), const Shard*> found_in;
  bool all_good = true;
  for (auto& run : runs) {
    if (run.held.shard) {
      all_good = belongs(run, runs.front()) && all_good;
      continue;
    }
    for (auto& verdict : run.held.verdicts) {
      const auto [first, fresh] = found_in.emplace(identity_of(verdict), &run);
      if (!fresh && first->second != &run) {
        complain(run.path + ": holds '" + verdict.file_stem + "' with seed " + std::to_string(verdict.seed) +
                 ", which " + first->second->path + " holds, too");
        all_good = false;
      }
      verdicts.push_back(std::move(verdict));
    }
  }
  if (!all_good) return std::nullopt;
  std::stable_sort(verdicts.begin(), verdicts.end(), [](const Verdict& one, const Verdict& other) {
    return identity_of(one) < identity_of(other);
  });
  return verdicts;
}

std::optional<std::vector<Verdict>> merged(const MergeOptions& options) {
  std::vector<Shard> shards;
  for (const auto& path : options.shards)
    if (auto held = read_shard(path)) shards.push_back({path, std::move(*held)});
  if (shards.size() != options.shards.size()) return std::nullopt;
  auto verdicts = shards.front().held.shard ? merged_parts(shards) : merged_runs(shards);
  if (!verdicts || !verdicts->empty()) return verdicts;
  complain("nothing to merge: the files hold no rehearsal");
  return std::nullopt;
}

}  // namespace

int merge(const MergeOptions& options) {
  const auto& reports = options.reports;
  if (!each_by_itself({{"--report", reports.report}, {"--junit", reports.junit}, {"--json", reports.json}},
                      options.shards))
    return kInputUnusable;
  const auto verdicts = merged(options);
  if (!verdicts) return kInputUnusable;
  print(io::summary_text(*verdicts));
  print(cautions());
  if (!write_reports(options.reports, *verdicts)) return kSurroundingsFailed;
  const bool passed =
      std::all_of(verdicts->begin(), verdicts->end(), [](const Verdict& verdict) { return verdict.passed; });
  return passed ? kAllWell : kVerdictFailed;
}

}  // namespace emberline::cli
