#include "sim/io/files/file_kind.hpp"

#include <string_view>

#include "sim/io/files/read_yaml.hpp"
#include "sim/io/files/values.hpp"

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

std::string_view files_of(FileKind kind) {
  switch (kind) {
    case FileKind::bench:
      return "bench files";
    case FileKind::register_table:
      return "register tables";
    case FileKind::scenario:
      return "scenario files";
    case FileKind::poll_plan:
      return "poll plans";
    case FileKind::table_mapping:
      return "table mappings";
  }
  return "";
}

/// The number of the formats, of all kinds so far. Keys that are added leave it as it is; one that is taken
/// away or changed in meaning raises it for its kind, and then this number and the one before it are read.
constexpr int kFormat = 1;
constexpr int kHighestFormat = 9999;  // what is beyond is no number of a format

/// True if `format:` says nothing, or a number that is read here.
bool format_is_read(const Node& root, FileKind kind, Problems& problems) {
  const auto* node = root.find("format");
  int format = kFormat;
  if (node == nullptr) return true;
  if (node->kind == Node::Kind::null) {
    complain(problems, node->place, "format: nothing stands here, expected a value");
    return false;
  }
  if (!read_whole(node, {1, kHighestFormat}, format, problems)) return false;
  if (format <= kFormat) return true;
  complain(problems, node->place,
           "format: written for format " + std::to_string(format) + " of " + std::string(files_of(kind)) +
               "; this program reads " + std::to_string(kFormat));
  return false;
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
  if (!declared || *declared == kind) return format_is_read(*root, kind, problems) ? root : std::nullopt;
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
