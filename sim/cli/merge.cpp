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
#include "sim/cli/reports.hpp"
#include "sim/io/report/report.hpp"

namespace emberline::cli {
namespace {

using rehearsal::Verdict;

/// What is read of one file; nothing after a complaint.
std::optional<std::vector<Verdict>> read_shard(const std::string& path) {
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

}  // namespace

int merge(const MergeOptions& options) {
  std::vector<Verdict> verdicts;
  std::map<std::tuple<std::string, std::uint64_t>, std::string> found_in;
  bool all_good = true;
  for (const auto& path : options.shards) {
    auto shard = read_shard(path);
    all_good = all_good && shard.has_value();
    if (!shard) continue;
    for (auto& verdict : *shard) {
      const auto [first, fresh] = found_in.emplace(std::tuple{verdict.file_stem, verdict.seed}, path);
      if (!fresh) {
        complain(path + ": holds '" + verdict.file_stem + "' with seed " + std::to_string(verdict.seed) +
                 ", which " + (first->second == path ? "it holds already" : first->second + " holds, too"));
        all_good = false;
      }
      verdicts.push_back(std::move(verdict));
    }
  }
  if (all_good && verdicts.empty()) {
    complain("nothing to merge: the files hold no rehearsal");
    all_good = false;
  }
  if (!all_good) return kInputUnusable;
  std::sort(verdicts.begin(), verdicts.end(), [](const Verdict& one, const Verdict& other) {
    return std::tie(one.file_stem, one.seed) < std::tie(other.file_stem, other.seed);
  });
  print(io::summary_text(verdicts));
  print(cautions());
  if (!write_reports(options.reports, verdicts)) return kSurroundingsFailed;
  const bool passed =
      std::all_of(verdicts.begin(), verdicts.end(), [](const Verdict& verdict) { return verdict.passed; });
  return passed ? kAllWell : kVerdictFailed;
}

}  // namespace emberline::cli
