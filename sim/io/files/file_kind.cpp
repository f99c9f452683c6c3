#include "sim/io/files/file_kind.hpp"

#include <string_view>

#include "sim/io/files/read_yaml.hpp"

namespace emberline::io {
namespace {

constexpr std::string_view kExpectedKey =
    "expected 'bench: TITLE', 'register_table: TITLE', 'scenario: TITLE', 'poll_plan: TITLE' or "
    "'table_mapping: NAME' among its keys";

std::string_view name_of(FileKind kind) {
  switch (kind) {
    case FileKind::bench:
      return "a bench";
    case FileKind::register_table:
      return "a register table";
    case FileKind::scenario:
      return "a scenario";
    case FileKind::poll_plan:
      return "a poll plan";
    case FileKind::table_mapping:
      return "a table mapping";
  }
  return "";
}

}  // namespace

std::optional<FileKind> declared_kind(const Node& root) {
  if (root.find("scenario") != nullptr) return FileKind::scenario;
  if (root.find("register_table") != nullptr) return FileKind::register_table;
  if (root.find("table_mapping") != nullptr) return FileKind::table_mapping;
  if (root.find("poll_plan") != nullptr) return FileKind::poll_plan;
  if (root.find("bench") != nullptr) return FileKind::bench;
  return std::nullopt;
}

std::optional<Node> read_kind(const std::string& path, FileKind kind, Problems& problems) {
  auto root = read_yaml(path, problems);
  if (!root) return std::nullopt;
  const auto declared = declared_kind(*root);
  if (!declared || *declared == kind) return root;
  complain(problems, {path, 0, 0},
           "this is " + std::string(name_of(*declared)) + ", expected " + std::string(name_of(kind)));
  return std::nullopt;
}

Result<FileKind, Problems> kind_of(const std::string& path) {
  Problems problems;
  const auto root = read_yaml(path, problems);
  // Other problems are for the loader of that kind to tell; here only the kind counts.
  if (root) {
    if (const auto kind = declared_kind(*root)) return *kind;
    problems.clear();
    complain(problems, {path, 0, 0}, std::string("what kind of file is this? ") + std::string(kExpectedKey));
  }
  return Failure{std::move(problems)};
}

}  // namespace emberline::io
