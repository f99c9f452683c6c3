#include "sim/cli/commands.hpp"
#include "sim/cli/exit_code.hpp"
#include "sim/cli/format_choice.hpp"
#include "sim/cli/output.hpp"
#include "sim/cli/reports.hpp"
#include "sim/io/files/load.hpp"
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

}  // namespace

int poll_plan(const PollPlanOptions& options) {
  const auto* const format = format_of<Format>(kFormats, options.format);
  if (format == nullptr) return kInputUnusable;
  const auto plan = io::load_poll_plan(options.file);
  if (!plan) {
    complain(plan.error());
    return kInputUnusable;
  }
  auto files = with_its_tables(plan->wish.bench_file, *plan->wish.bench);
  files.push_back(options.file);
  if (!spares_inputs(options.out, files)) return kInputUnusable;
  if (!give_out(options.out, format->write(*plan))) return kSurroundingsFailed;
  return plan->fits ? kAllWell : kVerdictFailed;
}

}  // namespace emberline::cli
