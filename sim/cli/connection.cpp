#include "sim/cli/connection.hpp"

#include <algorithm>
#include <charconv>
#include <vector>

#include "sim/base/diagnostic.hpp"
#include "sim/base/listed.hpp"
#include "sim/base/quantity.hpp"
#include "sim/base/serial_format.hpp"
#include "sim/cli/exit_code.hpp"
#include "sim/cli/output.hpp"
#include "sim/io/files/load.hpp"

namespace emberline::cli {
namespace {

using rehearsal::Target;

/// What is wrong, in one line.
using Problem = Failure<std::string>;

Result<io::LineAddress, std::string> address_of(const MasterOptions& options) {
  io::LineAddress line;
  line.name = options.line;
  const auto colon = options.line.rfind(':');
  if (options.line.find('/') == std::string::npos && colon != std::string::npos) {
    line.rtu = false;
    line.host = options.line.substr(0, colon);
    const auto port = options.line.substr(colon + 1);
    const auto [end, error] = std::from_chars(port.data(), port.data() + port.size(), line.port);
    if (error != std::errc{} || end != port.data() + port.size() || line.port == 0 || line.host.empty()) {
      return Problem{"'" + options.line + "' is no HOST:PORT: expected such as 127.0.0.1:1502"};
    }
    return line;
  }
  if (options.line.find('/') == std::string::npos) {
    return Problem{"'" + options.line + "' is neither a line of a bench nor a tty path nor HOST:PORT"};
  }
  const auto format = parse_serial_format(options.serial);
  if (!format) return Problem{"--serial: " + format.error()};
  line.path = options.line;
  line.serial = *format;
  return line;
}

Result<io::LineAddress, std::string> address_in_bench(const bench::BenchSpec& spec,
                                                      const MasterOptions& options) {
  const auto index = spec.find_line(options.line);
  if (!index) {
    if (options.line.find_first_of("/:") != std::string::npos) return address_of(options);
    std::vector<std::string> names;
    for (const auto& line : spec.lines) names.push_back(line.name);
    const auto near = nearest(options.line, names);
    return Problem{"the bench has no line '" + options.line + "'" +
                   (near.empty() ? "" : "; did you mean '" + std::string(near) + "'?")};
  }
  const auto& line = spec.lines[*index];
  if (line.kind == bench::LineKind::rtu_tcp) {
    return Problem{"line '" + line.name +
                   "' carries RTU frames over TCP, which this master does not speak: expected a pty, "
                   "serial-port or tcp line"};
  }
  const bool rtu = line.kind == bench::LineKind::pty || line.kind == bench::LineKind::serial_port;
  if (rtu ? line.path.empty() : line.port == 0) {
    return Problem{"line '" + line.name +
                   "' has no fixed place in the bench file: give its tty path or HOST:PORT instead"};
  }
  io::LineAddress address{line.name, rtu, line.path, line.serial, line.host, line.port};
  if (options.serial_given) {
    const auto format = parse_serial_format(options.serial);
    if (!format) return Problem{"--serial: " + format.error()};
    address.serial = *format;
  }
  return address;
}

Result<int, std::string> id_of(const std::string& text) {
  int id = 0;
  const auto [end, error] = std::from_chars(text.data(), text.data() + text.size(), id);
  if (error != std::errc{} || end != text.data() + text.size() || id < 1 || id > 247) {
    return Problem{"'" + text + "' is no unit id: expected 1 to 247"};
  }
  return id;
}

/// Something of the bench that has a unit id.
struct Station {
  std::string name;
  int id;
  std::vector<std::string> lines;
};

std::vector<Station> stations_of(const bench::BenchSpec& spec) {
  std::vector<Station> stations;
  for (const auto& entry : spec.units) stations.push_back({entry.unit.name, entry.unit.id, entry.unit.lines});
  for (const auto& block : spec.io_blocks) stations.push_back({block.name, block.id, block.lines});
  return stations;
}

/// The bench's unit or io-block of this name, or of this id on the line. A tty path or HOST:PORT may be any
/// line of the bench.
Result<Done, std::string> find_station(Connection& connection, const MasterOptions& options) {
  const bool named_line = connection.bench->find_line(connection.line_name).has_value();
  std::vector<std::string> names;
  for (const auto& station : stations_of(*connection.bench)) {
    names.push_back(station.name);
    const bool on_line = !named_line || std::find(station.lines.begin(), station.lines.end(),
                                                  connection.line_name) != station.lines.end();
    if (station.name != options.unit && (std::to_string(station.id) != options.unit || !on_line)) continue;
    if (!on_line) {
      return Problem{station.name + " is not on line " + connection.line_name +
                     "; its lines: " + listed(station.lines)};
    }
    connection.unit = station.name;
    connection.id = station.id;
    return Done{};
  }
  const auto near = nearest(options.unit, names);
  return Problem{"the bench has no unit or io-block '" + options.unit + "'" +
                 (near.empty() ? "" : "; did you mean '" + std::string(near) + "'?")};
}

Result<Target, std::string> target_in_table(const Connection& connection, const std::string& name,
                                            bool for_writing) {
  const auto point = registers::find_point(name);
  std::vector<std::string> names;
  for (const auto& row : connection.table->rows())
    if (carries_point(row) || row.text) names.emplace_back(name_of(row));
  const auto* row = point ? connection.table->find(*point, for_writing) : nullptr;
  if (const auto text = registers::find_text_point(name)) {
    if (for_writing) return Problem{"'" + name + "' is text and cannot be written by a master"};
    row = connection.table->find_text(*text);
  }
  if (row == nullptr) {
    const auto near = nearest(name, names);
    return Problem{"the register table has no point '" + name + "'" +
                   (near.empty() ? "" : "; did you mean '" + std::string(near) + "'?")};
  }
  if (for_writing && row->access == registers::Access::read_only) {
    return Problem{"'" + name + "' cannot be written: the register table gives it as read only"};
  }
  Target target;
  target.name = name;
  target.id = connection.id;
  target.row = *row;
  if (!point) return target;
  const auto& info = point_info(*point);
  target.info = {info.dimension, info.values, info.flags};
  return target;
}

}  // namespace

std::optional<Connection> find_connection(const MasterOptions& options) {
  Connection connection;
  connection.line_name = options.line;
  const auto fail = [](const std::string& message) {
    complain(message);
    return std::nullopt;
  };
  if (options.bench.empty()) {
    auto table = io::load_register_table(options.registers);
    if (!table) {
      complain(table.error());
      return std::nullopt;
    }
    connection.table = *table;
    const auto id = id_of(options.unit);
    if (!id) return fail(id.error());
    connection.id = *id;
    const auto line = address_of(options);
    if (!line) return fail(line.error());
    connection.line = *line;
    return connection;
  }
  auto bench = io::load_bench(options.bench);
  if (!bench) {
    complain(bench.error());
    return std::nullopt;
  }
  connection.bench = *bench;
  const auto line = address_in_bench(*bench, options);
  if (!line) return fail(line.error());
  connection.line = *line;
  const auto unit = find_station(connection, options);
  if (!unit) return fail(unit.error());
  return connection;
}

Result<Target, std::string> find_target(const Connection& connection, const std::string& name,
                                        bool for_writing) {
  if (!connection.bench) return target_in_table(connection, name, for_writing);
  const auto full = connection.unit + "." + name;
  auto text = rehearsal::resolve_text(*connection.bench, full, for_writing);
  auto target = text ? std::move(*text) : rehearsal::resolve_target(*connection.bench, full, for_writing);
  if (!target) return Problem{target.error()};
  auto found = *target;
  found.name = name;  // as it was typed: the unit has been named once already
  return found;
}

int exit_code_of(const io::Client::Failure& failure) {
  complain(failure.sentence);
  return failure.refusal && *failure.refusal != modbus::Refusal::server_device_busy ? kInputUnusable
                                                                                    : kSurroundingsFailed;
}

Result<Duration, std::string> parse_time(const std::string& flag, const std::string& text) {
  const auto seconds = parse_quantity(text, Dimension::time);
  if (!seconds) return Problem{flag + ": " + seconds.error()};
  if (*seconds < 0.001 || *seconds > 3600)
    return Problem{flag + ": expected 1 ms to 1 h, found '" + text + "'"};
  return from_seconds(*seconds);
}

}  // namespace emberline::cli
