#include <algorithm>
#include <string>

#include "sim/cli/commands.hpp"
#include "sim/cli/exit_code.hpp"
#include "sim/cli/output.hpp"
#include "sim/io/files/load.hpp"
#include "sim/io/files/table_mapping_file.hpp"

namespace emberline::cli {
namespace {

std::string plural(std::size_t count, const std::string& what) {
  return std::to_string(count) + " " + what + (count == 1 ? "" : "s");
}

template <class T, class Describe>
bool report(const std::string& file, const Result<T, io::Problems>& loaded, Describe describe) {
  if (!loaded) {
    complain(loaded.error());
    return false;
  }
  print(file + ": ok, " + describe(*loaded) + "\n");
  return true;
}

bool check_one(const std::string& file) {
  const auto kind = io::kind_of(file);
  if (!kind) {
    complain(kind.error());
    return false;
  }
  switch (*kind) {
    case io::FileKind::bench:
      return report(file, io::load_bench(file), [](const bench::BenchSpec& spec) {
        return "a bench with " + plural(spec.lines.size(), "line") + ", " +
               plural(spec.units.size(), "unit") + ", " + plural(spec.zones.size(), "zone") + " and " +
               plural(spec.io_blocks.size(), "io-block");
      });
    case io::FileKind::register_table:
      return report(file, io::load_register_table(file), [](const auto& table) {
        return "a register table with " + plural(table->rows().size(), "row");
      });
    case io::FileKind::scenario:
      return report(file, io::load_scenario(file), [](const rehearsal::ScenarioSpec& spec) {
        const auto entries = std::count_if(spec.timeline.begin(), spec.timeline.end(),
                                           [](const auto& entry) { return !entry.takes_back; });
        return "a scenario with " + std::to_string(entries) + " on its timeline" + ", " +
               plural(spec.masters.size(), "stand-in") + " and " +
               plural(spec.expectations.size(), "expectation");
      });
    case io::FileKind::poll_plan:
      return report(file, io::load_poll_plan(file), [](const polling::PollPlan& plan) {
        return "a poll plan with " + plural(plan.requests.size(), "request") +
               (plan.fits ? "" : ", which does not fit");
      });
    case io::FileKind::table_mapping:
      return report(file, io::load_table_mapping(file), [](const io::TableMapping& mapping) {
        return "a table mapping with " +
               (mapping.columns.empty() ? "all columns by their usual names"
                                        : plural(mapping.columns.size(), "column") + " named") +
               (mapping.points.empty() ? "" : " and " + plural(mapping.points.size(), "point"));
      });
  }
  return false;
}

}  // namespace

int check(const std::vector<std::string>& files) {
  bool all_good = true;
  for (const auto& file : files) all_good = check_one(file) && all_good;
  return all_good ? kAllWell : kInputUnusable;
}

}  // namespace emberline::cli
