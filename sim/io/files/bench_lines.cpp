#include <algorithm>
#include <array>
#include <charconv>
#include <string>
#include <string_view>

#include "sim/io/files/bench_parts.hpp"
#include "sim/io/files/fields.hpp"
#include "sim/io/files/values.hpp"
#include "sim/io/files/words.hpp"

namespace emberline::io {
namespace {

constexpr std::string_view kLineExample =
    "{ pty: /tmp/emberline/field, serial: 19200 8E1 } or { tcp: 127.0.0.1:1502 }";
constexpr int kMostConnections = 1000;
constexpr std::array<std::string_view, 3> kConnectionKeys{"max_connections", "beyond", "idle_timeout"};
constexpr std::array<std::string_view, 2> kAdapterKeys{"rs485", "hears_itself"};

bool is_number(std::string_view text, int highest, int& into) {
  const auto* end = text.data() + text.size();
  const auto [rest, error] = std::from_chars(text.data(), end, into);
  return !text.empty() && error == std::errc{} && rest == end && into >= 0 && into <= highest;
}

bool only_of(std::string_view text, std::string_view characters) {
  return !text.empty() && text.find_first_not_of(characters) == std::string_view::npos;
}

/// Four numbers from 0 to 255 with dots between.
bool is_ipv4(std::string_view host) {
  int parts = 0;
  for (std::size_t start = 0; start <= host.size(); ++parts) {
    const auto dot = std::min(host.find('.', start), host.size());
    int value = 0;
    if (!is_number(host.substr(start, dot - start), 255, value)) return false;
    start = dot + 1;
  }
  return parts == 4;
}

/// An IPv4 address, an IPv6 address in brackets, or the name of a host.
bool is_host(std::string_view host) {
  if (host.starts_with('[') && host.ends_with(']') && host.size() > 2)
    return only_of(host.substr(1, host.size() - 2), "0123456789abcdefABCDEF:.");
  if (only_of(host, "0123456789.")) return is_ipv4(host);
  return only_of(host, "abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789-.") &&
         !host.starts_with('-') && !host.starts_with('.');
}

void read_host_and_port(const Node* node, bench::LineSpec& line, Problems& problems) {
  std::string text;
  if (!read_text(node, text, problems)) return;
  const auto colon = text.rfind(':');
  int port = 0;
  if (colon == std::string::npos || !is_host(std::string_view(text).substr(0, colon)))
    return complain_kind(*node, "a host and a port such as '127.0.0.1:1502'", problems);
  if (!is_number(std::string_view(text).substr(colon + 1), 65535, port))
    return complain_kind(*node, "a port from 0 to 65535 behind the host (0: one is chosen)", problems);
  line.host = text.substr(0, colon);
  if (line.host.starts_with('[')) line.host = line.host.substr(1, line.host.size() - 2);
  line.port = static_cast<std::uint16_t>(port);
}

void read_serial(const Node* node, SerialFormat& serial, Problems& problems) {
  std::string text;
  if (!read_text(node, text, problems)) return;
  const auto format = parse_serial_format(text);
  if (format) {
    serial = *format;
  } else {
    complain(problems, node->place, "serial: " + format.error());
  }
}

// --- what several kinds of line have

void read_rtu_timing(Fields& fields, bench::LineSpec& line, Problems& problems) {
  read_serial(fields.optional("serial"), line.serial, problems);
  static constexpr Choice<bool> kPacing[] = {{"line-time", true}, {"none", false}};
  read_word(fields.optional("pacing"), kPacing, line.paced, problems);
  read_duration(fields.optional("frame_silence"), Bound::positive, line.frame_silence, problems);
}

void read_connections(Fields& fields, bench::LineSpec& line, Problems& problems) {
  read_whole(fields.optional("max_connections"), {1, kMostConnections}, line.max_connections, problems);
  static constexpr Choice<bool> kBeyond[] = {{"refuse", false}, {"drop-oldest", true}};
  read_word(fields.optional("beyond"), kBeyond, line.drop_oldest, problems);
  read_duration(fields.optional("idle_timeout"), Bound::positive, line.idle_timeout, problems);
}

void read_unknown_id(Fields& fields, bench::LineSpec& line, Problems& problems) {
  static constexpr Choice<bool> kUnknownId[] = {{"silent", false}, {"exception-0B", true}};
  read_word(fields.optional("unknown_id"), kUnknownId, line.unknown_id_exception_0b, problems);
}

void refuse_connections(Fields& fields) {
  for (const auto key : kConnectionKeys) fields.refuse(key, "only tcp and rtu-tcp lines count connections");
}

void refuse_adapter(Fields& fields) {
  for (const auto key : kAdapterKeys) fields.refuse(key, "only a serial-port line has an adapter");
}

// --- the kinds

void read_pty(Fields& fields, bench::LineSpec& line, Problems& problems) {
  line.kind = bench::LineKind::pty;
  const auto* path = fields.may_be_empty("pty");  // empty: nobody asks for a stable link
  if (path != nullptr && path->kind != Node::Kind::null) read_text(path, line.path, problems);
  read_rtu_timing(fields, line, problems);
  read_switch(fields.optional("strict_timing"), line.strict_timing, problems);
  read_unknown_id(fields, line, problems);
  refuse_connections(fields);
  refuse_adapter(fields);
}

void read_serial_port(Fields& fields, bench::LineSpec& line, Problems& problems) {
  line.kind = bench::LineKind::serial_port;
  const auto* path = fields.optional("serial-port");
  if (path != nullptr && read_text(path, line.path, problems) && !line.path.starts_with('/'))
    complain_kind(*path, "the whole path of a tty such as /dev/ttyUSB0", problems);
  read_rtu_timing(fields, line, problems);
  read_switch(fields.optional("strict_timing"), line.strict_timing, problems);
  read_switch(fields.optional("rs485"), line.rs485, problems);
  read_switch(fields.optional("hears_itself"), line.hears_itself, problems);
  refuse_connections(fields);
  fields.refuse("unknown_id", "an id nobody has here may be that of a real slave on the same wire");
}

void read_tcp(Fields& fields, bench::LineSpec& line, Problems& problems) {
  line.kind = bench::LineKind::tcp;
  read_host_and_port(fields.optional("tcp"), line, problems);
  read_connections(fields, line, problems);
  read_unknown_id(fields, line, problems);
  for (const auto key : {"serial", "strict_timing", "frame_silence", "pacing"})
    fields.refuse(key, "a tcp line has no serial timing");
  refuse_adapter(fields);
}

void read_rtu_tcp(Fields& fields, bench::LineSpec& line, Problems& problems) {
  line.kind = bench::LineKind::rtu_tcp;
  read_host_and_port(fields.optional("rtu-tcp"), line, problems);
  read_rtu_timing(fields, line, problems);
  read_connections(fields, line, problems);
  read_unknown_id(fields, line, problems);
  fields.refuse("strict_timing", "a TCP connection keeps no silences between frames");
  refuse_adapter(fields);
}

struct Way {
  std::string_view word;
  void (*read)(Fields& fields, bench::LineSpec& line, Problems& problems);
};
constexpr std::array<Way, 4> kWays{
    Way{"pty", read_pty}, {"tcp", read_tcp}, {"serial-port", read_serial_port}, {"rtu-tcp", read_rtu_tcp}};

/// pty, serial-port, tcp or rtu-tcp: exactly one says what a line is. Null, after a complaint, if not so.
const Way* way_in(const Node& node, Problems& problems) {
  const Way* way = nullptr;
  for (const auto& candidate : kWays) {
    if (node.find(candidate.word) == nullptr) continue;
    if (way == nullptr) {
      way = &candidate;
      continue;
    }
    complain(problems, node.header,
             node.label + ": a line is one way in, found '" + std::string(way->word) + "' and '" +
                 std::string(candidate.word) + "'");
    return nullptr;
  }
  if (way == nullptr)
    complain(problems, node.header,
             node.label +
                 ": expected 'pty: PATH', 'serial-port: PATH', 'tcp: HOST:PORT' or 'rtu-tcp: "
                 "HOST:PORT' among the keys of a line");
  return way;
}

}  // namespace

void read_line(const Node& node, BenchDraft& draft) {
  auto& problems = draft.problems;
  bench::LineSpec line;
  line.name = node.label;
  Fields fields(node, kLineExample, problems);
  const auto copies = read_copies(fields.optional("copies"), problems);
  const auto* way = fields.is_mapping() ? way_in(node, problems) : nullptr;
  if (way != nullptr) {
    way->read(fields, line, problems);
    fields.done();
  }
  if (copies) {
    add_copies(node, line, *copies, draft);
  } else {
    check_place(node, line, draft);
    draft.spec.lines.push_back(std::move(line));
  }
}

void check_place(const Node& node, const bench::LineSpec& line, BenchDraft& draft) {
  for (const auto& other : draft.spec.lines) {
    const bool same_path = !line.path.empty() && line.path == other.path;
    const bool same_port = line.port != 0 && line.port == other.port && line.host == other.host;
    if (!same_path && !same_port) continue;
    const auto what = same_path ? line.path : line.host + ":" + std::to_string(line.port);
    complain(draft.problems, node.header, line.name + ": " + what + " is taken by line '" + other.name + "'");
    return;
  }
}

std::vector<std::string> read_line_names(const Node* node, BenchDraft& draft) {
  std::vector<std::string> names;
  for (const auto* item : read_list(node, draft.problems)) {
    const bool copy_by_copy = draft.copies && draft.names.copies("lines", item->text);
    if (copy_by_copy || draft.names.check(*item, "lines", draft.problems)) names.push_back(item->text);
  }
  return names;
}

std::optional<int> read_id(const Node* node, Problems& problems) {
  // Serial Line V1.02, 2.2: 0 is broadcast, 248 to 255 are reserved.
  constexpr WholeNumber kIds{1, 247};
  std::optional<int> id;
  read_whole(node, kIds, id, problems);
  return id;
}

void claim_id(const Node* at, int id, const std::string& owner, const std::vector<std::string>& lines,
              BenchDraft& draft) {
  bool complained = false;
  for (const auto& line : lines) {
    const auto [holder, is_new] = draft.ids.try_emplace({line, id}, owner);
    if (is_new || complained) continue;
    complained = true;
    complain(draft.problems, at->place,
             "id: " + std::to_string(id) + " is taken by '" + holder->second + "' on line '" + line + "'");
  }
}

}  // namespace emberline::io
