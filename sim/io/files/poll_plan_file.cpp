#include <algorithm>
#include <chrono>
#include <map>
#include <optional>
#include <string_view>
#include <utility>

#include "sim/base/duration_text.hpp"
#include "sim/io/files/bench_names.hpp"
#include "sim/io/files/fields.hpp"
#include "sim/io/files/file_kind.hpp"
#include "sim/io/files/load.hpp"
#include "sim/io/files/paths.hpp"
#include "sim/io/files/scenario_master_parts.hpp"
#include "sim/io/files/values.hpp"
#include "sim/io/files/words.hpp"
#include "sim/polling/schedule.hpp"
#include "sim/rehearsal/target.hpp"

namespace emberline::io {
namespace {

using polling::PollWish;
using polling::Wanted;

constexpr std::string_view kPlanExample = "'poll_plan: My polling'";
constexpr std::string_view kMasterExample = "{ timeout: 500 ms, retries: 1 }";
constexpr std::string_view kWantExample = "{ every: 1 s, read: [soak-heater.state] }";

/// Longer ones are slips of the pen, and sums of many stay within what can be counted.
constexpr Duration kLongestPeriod = std::chrono::hours{7 * 24};
constexpr Duration kLongestTries = std::chrono::hours{1};
constexpr Duration kLongestPause = std::chrono::minutes{1};

struct Draft {
  std::string path;
  BenchNames names;
  PollWish wish;
  bool line_known = false;
  std::map<std::pair<bool, std::string>, int> wanted;  ///< names by whether they are written; on which line
  Problems problems;
  Problems bench_problems;
};

void read_bench_of(const Node* node, Draft& draft) {
  std::string named;
  if (!read_text(node, named, draft.problems)) return;
  draft.wish.bench_file = path_beside(draft.path, named);
  auto bench = load_bench(draft.wish.bench_file);
  if (bench) {
    draft.wish.bench = std::make_shared<const bench::BenchSpec>(std::move(bench).value());
    draft.names.declare_all(*draft.wish.bench);
    return;
  }
  for (const auto& problem : bench.error()) {
    // A file that cannot be used at all is a mistake of the line that names it.
    if (problem.place.line == 0) {
      complain(draft.problems, node->place, "bench: " + problem.place.file + ": " + problem.message);
    } else {
      draft.bench_problems.push_back(problem);
    }
  }
}

void read_line_of(const Node* node, Draft& draft) {
  std::string name;
  if (!read_text(node, name, draft.problems) || !draft.wish.bench) return;
  if (!draft.names.check(*node, "lines", draft.problems)) return;
  draft.wish.line = *draft.wish.bench->find_line(name);
  draft.line_known = true;
}

/// A time up to `longest`, which `most` says.
template <class Time>
bool read_up_to(const Node* node, Bound bound, Duration longest, std::string_view most, Time& into,
                Problems& problems) {
  std::optional<Duration> read;
  if (!read_duration(node, bound, read, problems)) return false;
  if (*read > longest) {
    complain_kind(*node, "at most " + std::string(most), problems);
    return false;
  }
  into = *read;
  return true;
}

/// All tries of one request together: what a slave that does not answer takes of the line.
void check_tries(const Node& node, const polling::MasterTiming& master, Problems& problems) {
  const Duration tries = polling::given_up_after(master);
  if (tries <= kLongestTries) return;
  complain(problems, node.place,
           "master: a request that nobody answers takes " + format_duration(tries) +
               " with all its tries, expected at most 1 h");
}

void read_timing(const Node* node, Draft& draft) {
  if (node == nullptr) return;
  auto& problems = draft.problems;
  auto& master = draft.wish.master;
  Fields fields(*node, kMasterExample, problems);
  const auto known = problems.size();
  read_up_to(fields.optional("timeout"), Bound::positive, kLongestTries, "1 h", master.timeout, problems);
  read_whole(fields.optional("retries"), {0, kMostRetries}, master.retries, problems);
  const auto* retry_after = fields.optional("retry_after");
  if (read_up_to(retry_after, Bound::not_negative, kLongestTries, "1 h", master.retry_after, problems) &&
      fields.node().find("retries") == nullptr)
    complain(problems, retry_after->header, "retry_after: there is no further try without 'retries'");
  read_up_to(fields.optional("pause"), Bound::not_negative, kLongestPause, "1 min", master.pause, problems);
  read_up_to(fields.optional("poll_lost_every"), Bound::positive, kLongestPeriod, "7 days (168 h)",
             master.poll_lost_every, problems);
  fields.done();
  if (problems.size() == known) check_tries(*node, master, problems);
}

/// What stands at a name, if this line leads there and nobody wanted it before.
std::optional<Wanted> find_wanted(const Node& list, const Node& item, bool write, Draft& draft) {
  const std::string label = label_of(list);
  auto& problems = draft.problems;
  if (!draft.wish.bench) return std::nullopt;
  const auto& bench = *draft.wish.bench;
  const auto target = rehearsal::resolve_target(bench, item.text, write);
  if (!target) {
    complain(problems, item.place, label + target.error());
    return std::nullopt;
  }
  const auto [before, is_new] = draft.wanted.try_emplace({write, item.text}, item.place.line);
  if (!is_new) {
    complain(problems, item.place,
             label + "'" + item.text + "' is wanted already, on line " + std::to_string(before->second));
    return std::nullopt;
  }
  if (!draft.line_known) return std::nullopt;
  const auto& line = bench.lines[draft.wish.line].name;
  if (std::find(target->lines.begin(), target->lines.end(), line) == target->lines.end()) {
    complain(problems, item.place,
             label + "'" + item.text + "' cannot be reached over " + line + ", only over " +
                 listed(target->lines));
    return std::nullopt;
  }
  Wanted wanted;
  wanted.name = item.text;
  wanted.io_block = target->io_block;
  wanted.slave = target->slave;
  wanted.table = target->row.table;
  wanted.address = target->row.address;
  wanted.count = modbus::carries_bits(target->row.table) ? 1 : registers::register_count(target->row.layout);
  wanted.place = item.place;
  return wanted;
}

void read_names(const Node* list, bool write, std::optional<Duration> every, Draft& draft) {
  if (list == nullptr) return;
  for (const auto* item : read_list(list, draft.problems)) {
    auto wanted = find_wanted(*list, *item, write, draft);
    if (!wanted || !every) continue;
    wanted->every = *every;
    (write ? draft.wish.writes : draft.wish.reads).push_back(std::move(*wanted));
  }
}

void read_want(const Node& node, Draft& draft) {
  auto& problems = draft.problems;
  Fields fields(node, kWantExample, problems);
  const auto* every_node = fields.required("every", "expected how often at least, such as '1 s'");
  std::optional<Duration> every;
  if (read_up_to(every_node, Bound::positive, kLongestPeriod, "7 days (168 h)", every, problems) &&
      *every < kShortestPeriod) {
    complain_kind(*every_node, "a period of 1 ms or more", problems);
    every.reset();
  }
  const auto* read = fields.optional("read");
  const auto* write = fields.optional("write");
  if (fields.is_mapping() && fields.node().find("read") == nullptr && fields.node().find("write") == nullptr)
    complain(problems, node.place, "what? expected 'read: [NAMES]' or 'write: [NAMES]'");
  read_names(read, false, every, draft);
  read_names(write, true, every, draft);
  fields.done();
}

void read_wants(const Node* node, Draft& draft) {
  if (node == nullptr || node->kind == Node::Kind::refused) return;
  if (node->kind != Node::Kind::sequence || node->items.empty())
    return complain_kind(*node, "a list such as [" + std::string(kWantExample) + "]", draft.problems);
  for (const auto& item : node->items) read_want(item, draft);
}

void read_plan(const Node& root, Draft& draft) {
  Fields fields(root, kPlanExample, draft.problems);
  read_text(fields.required("poll_plan", "the title of the plan"), draft.wish.title, draft.problems);
  read_bench_of(fields.required("bench", "expected the file of the bench"), draft);
  read_line_of(fields.required("line", "expected the line that is polled"), draft);
  read_timing(fields.optional("master"), draft);
  read_wants(fields.required("want", "expected what to read, such as [" + std::string(kWantExample) + "]"),
             draft);
  fields.optional("format");  // read_kind has looked at it
  fields.done();
}

}  // namespace

Result<PollWish, Problems> load_poll_wish(const std::string& path) {
  Draft draft;
  draft.path = path;
  const auto root = read_kind(path, FileKind::poll_plan, draft.problems);
  if (root) read_plan(*root, draft);
  if (draft.problems.empty() && draft.bench_problems.empty()) return std::move(draft.wish);
  sort_by_place(draft.problems);
  draft.problems.insert(draft.problems.end(), draft.bench_problems.begin(), draft.bench_problems.end());
  return Failure{std::move(draft.problems)};
}

Result<polling::PollPlan, Problems> load_poll_plan(const std::string& path) {
  auto wish = load_poll_wish(path);
  if (!wish) return Failure{wish.error()};
  auto plan = polling::make_poll_plan(std::move(wish).value());
  if (!plan) {
    auto problems = plan.error();
    sort_by_place(problems);
    return Failure{std::move(problems)};
  }
  return std::move(plan).value();
}

}  // namespace emberline::io
