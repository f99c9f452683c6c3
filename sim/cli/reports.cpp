#include "sim/cli/reports.hpp"

#include <array>
#include <ctime>
#include <filesystem>
#include <system_error>

#include "sim/cli/output.hpp"
#include "sim/io/report/report.hpp"

namespace emberline::cli {
namespace {

/// The time now, UTC, in this format of strftime.
std::string utc_now(const char* format) {
  const std::time_t now = std::time(nullptr);
  std::tm parts{};
  gmtime_r(&now, &parts);
  std::array<char, 64> text{};
  const auto length = std::strftime(text.data(), text.size(), format, &parts);
  return {text.data(), length};
}

bool put(const std::string& path, const std::string& content) {
  const auto written = io::write_whole(path, content);
  if (!written) complain(written.error());
  return written.has_value();
}

bool put_trends(const std::string& folder, const std::vector<rehearsal::Verdict>& verdicts) {
  std::error_code error;
  std::filesystem::create_directories(folder, error);
  if (error) {
    complain(folder + ": cannot be made: " + error.message());
    return false;
  }
  bool all_written = true;
  for (const auto& file : io::trend_files(verdicts))
    all_written = put((std::filesystem::path(folder) / file.name).string(), file.content) && all_written;
  return all_written;
}

}  // namespace

std::filesystem::path led_to(const std::string& path) {
  std::error_code error;
  // Of a link that leads to nothing yet, too.
  const auto file = std::filesystem::absolute(io::behind_links(path), error);
  auto place = std::filesystem::weakly_canonical(file, error);
  return error ? std::filesystem::path(path) : place;
}

bool same_file(const std::string& one, const std::string& other) {
  std::error_code ignored;
  return led_to(one) == led_to(other) || std::filesystem::equivalent(one, other, ignored);
}

std::vector<std::string> with_its_tables(const std::string& file, const bench::BenchSpec& bench) {
  std::vector<std::string> files{file};
  for (const auto& entry : bench.units)
    if (entry.unit.table && !entry.unit.table->rows().empty())
      files.push_back(entry.unit.table->rows().front().place.file);
  return files;
}

bool spares_inputs(const std::string& out, const std::vector<std::string>& inputs) {
  for (const auto& input : inputs) {
    if (out.empty() || input.empty() || !same_file(out, input)) continue;
    complain("--out " + out + ": would overwrite what is read");
    return false;
  }
  return true;
}

bool write_reports(const ReportFiles& files, const std::vector<rehearsal::Verdict>& verdicts,
                   const std::optional<io::ShardPlace>& shard) {
  bool all_written = true;
  if (!files.junit.empty())
    all_written = put(files.junit, io::junit_xml(verdicts, utc_now("%Y-%m-%dT%H:%M:%S"))) && all_written;
  if (!files.json.empty()) all_written = put(files.json, io::verdicts_json(verdicts, shard)) && all_written;
  if (!files.report.empty())
    all_written = put(files.report, io::html_report(verdicts, utc_now("%Y-%m-%d %H:%M UTC"))) && all_written;
  if (!files.trends.empty()) all_written = put_trends(files.trends, verdicts) && all_written;
  return all_written;
}

bool give_out(const std::string& out, const std::string& text) {
  if (out.empty()) {
    print(text);
    return true;
  }
  const auto written = io::write_whole(out, text);
  if (!written) complain(written.error());
  return written.has_value();
}

}  // namespace emberline::cli
