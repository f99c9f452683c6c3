#include <algorithm>

#include "sim/base/listed.hpp"
#include "sim/cli/commands.hpp"
#include "sim/cli/exit_code.hpp"
#include "sim/cli/output.hpp"
#include "sim/cli/reports.hpp"
#include "sim/io/files/load.hpp"
#include "sim/io/report/report.hpp"
#include "sim/io/tables/plan_formats.hpp"

namespace emberline::cli {
namespace {

/// One of the words after --as.
struct Format {
  std::string_view word;
  std::string (*write)(const polling::PollPlan& plan);
};

constexpr Format kFormats[] = {{"text", io::plan_text},
                               {"csv", io::plan_csv},
                               {"markdown", io::plan_markdown},
                               {"json", io::plan_json},
                               {"st", io::plan_st}};

const Format* format_of(const std::string& word) {
  const auto* const found = std::find_if(std::begin(kFormats), std::end(kFormats),
                                         [&word](const Format& format) { return format.word == word; });
  if (found != std::end(kFormats)) return found;
  std::vector<std::string> words;
  for (const auto& format : kFormats) words.emplace_back(format.word);
  complain("--as " + word + ": expected one of " + listed(words));
  return nullptr;
}

}  // namespace

int poll_plan(const PollPlanOptions& options) {
  const auto* const format = format_of(options.format);
  if (format == nullptr) return kInputUnusable;
  const auto plan = io::load_poll_plan(options.file);
  if (!plan) {
    complain(plan.error());
    return kInputUnusable;
  }
  auto files = with_its_tables(plan->wish.bench_file, *plan->wish.bench);
  files.push_back(options.file);
  if (!spares_inputs(options.out, files)) return kInputUnusable;
  const auto text = format->write(*plan);
  if (options.out.empty()) {
    print(text);
  } else if (const auto written = io::write_whole(options.out, text); !written) {
    complain(written.error());
    return kSurroundingsFailed;
  }
  return plan->fits ? kAllWell : kVerdictFailed;
}

}  // namespace emberline::cli
