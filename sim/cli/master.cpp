#include <algorithm>
#include <charconv>
#include <chrono>
#include <condition_variable>
#include <memory>
#include <mutex>

#include "sim/base/diagnostic.hpp"
#include "sim/base/quantity.hpp"
#include "sim/base/serial_format.hpp"
#include "sim/cli/commands.hpp"
#include "sim/cli/exit_code.hpp"
#include "sim/cli/output.hpp"
#include "sim/cli/stop_signals.hpp"
#include "sim/io/files/load.hpp"
#include "sim/io/master/client.hpp"
#include "sim/rehearsal/block_plan.hpp"
#include "sim/rehearsal/target.hpp"

namespace emberline::cli {
namespace {

using rehearsal::Target;
using Words = std::vector<std::uint16_t>;

/// Where the command finds its unit, and what it knows about it.
struct Connection {
  io::LineAddress line;
  std::string line_name;  ///< of the bench, or as given
  int id = 1;
  std::string unit;  ///< of the bench, or empty
  std::optional<bench::BenchSpec> bench;
  std::shared_ptr<const registers::RegisterTable> table;  ///< with --registers
};

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

/// The bench's unit or io-block with this name or id on the line.
Result<Done, std::string> find_unit(Connection& connection, const MasterOptions& options) {
  const auto& spec = *connection.bench;
  std::vector<std::string> names;
  const auto consider = [&](const std::string& name, int id, const std::vector<std::string>& lines) {
    names.push_back(name);
    const bool on_line = std::find(lines.begin(), lines.end(), connection.line_name) != lines.end();
    if (name == options.unit || (std::to_string(id) == options.unit && on_line && connection.unit.empty())) {
      connection.unit = name;
      connection.id = id;
    }
  };
  for (const auto& entry : spec.units) consider(entry.unit.name, entry.unit.id, entry.unit.lines);
  for (const auto& block : spec.io_blocks) consider(block.name, block.id, block.lines);
  if (!connection.unit.empty()) return Done{};
  const auto near = nearest(options.unit, names);
  return Problem{"the bench has no unit or io-block '" + options.unit + "'" +
                 (near.empty() ? "" : "; did you mean '" + std::string(near) + "'?")};
}

/// Everything the two commands need before they talk; problems are complained about here.
std::optional<Connection> connect(const MasterOptions& options) {
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
  const auto unit = find_unit(connection, options);
  if (!unit) return fail(unit.error());
  return connection;
}

Result<Target, std::string> target_in_table(const Connection& connection, const std::string& name,
                                            bool for_writing) {
  const auto point = registers::find_point(name);
  std::vector<std::string> names;
  for (const auto& row : connection.table->rows()) names.emplace_back(point_info(row.point).name);
  const auto* row = point ? connection.table->find(*point, for_writing) : nullptr;
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
  const auto& info = point_info(*point);
  target.info = {info.dimension, info.values, info.flags};
  return target;
}

Result<Target, std::string> find_target(const Connection& connection, const std::string& name,
                                        bool for_writing) {
  if (!connection.bench) return target_in_table(connection, name, for_writing);
  auto target = rehearsal::resolve_target(*connection.bench, connection.unit + "." + name, for_writing);
  if (!target) return Problem{target.error()};
  auto found = *target;
  found.name = name;  // as it was typed: the unit has been named once already
  return found;
}

bool is_bit_table(modbus::Table table) {
  return table == modbus::Table::coils || table == modbus::Table::discrete_inputs;
}

std::string shown(const Target& target, double value) {
  return target.name + " = " + bench::describe_value(target.info, value) + "\n";
}

/// Refusals mean that what was asked for cannot be had that way; silence that the surroundings are not there.
int exit_code_of(const io::Client::Failure& failure) {
  complain(failure.sentence);
  return failure.refusal && *failure.refusal != modbus::Refusal::server_device_busy ? kInputUnusable
                                                                                    : kSurroundingsFailed;
}

std::size_t size_of(const Target& target) {
  return is_bit_table(target.row.table) ? 1
                                        : static_cast<std::size_t>(register_count(target.row.layout.type));
}

/// Reads one block and fills in the values of the targets that lie in it.
std::optional<int> read_block(io::Client& client, const rehearsal::BlockRead& block,
                              const std::vector<Target>& targets,
                              std::vector<std::optional<double>>& values) {
  const auto& lead = targets[block.lead];
  Words words;
  if (is_bit_table(lead.row.table)) {
    const auto bits = client.read_bits(lead.id, lead.row.table, block.range);
    if (!bits) return exit_code_of(bits.error());
    for (const bool bit : *bits) words.push_back(bit ? 1 : 0);
  } else {
    const auto registers = client.read_registers(lead.id, lead.row.table, block.range);
    if (!registers) return exit_code_of(registers.error());
    words = *registers;
  }
  for (std::size_t i = 0; i < targets.size(); ++i) {
    const auto& row = targets[i].row;
    if (row.table != lead.row.table || row.address < block.range.first) continue;
    const auto offset = static_cast<std::size_t>(row.address - block.range.first);
    if (offset + size_of(targets[i]) > words.size()) continue;
    values[i] = decode_row(row, std::span<const std::uint16_t>(words).subspan(offset, size_of(targets[i])));
  }
  return std::nullopt;
}

int read_all(io::Client& client, const std::vector<Target>& targets) {
  std::vector<std::optional<double>> values(targets.size());
  for (const auto& block : rehearsal::plan_blocks(targets)) {
    if (const auto failed = read_block(client, block, targets, values)) return *failed;
  }
  for (std::size_t i = 0; i < targets.size(); ++i)
    if (values[i]) print(shown(targets[i], *values[i]));
  return kAllWell;
}

struct Order {
  Target target;
  double value;
};

Result<double, std::string> parse_value(const Target& target, const std::string& text) {
  for (const auto& [word, number] : target.info.values)
    if (text == word) return static_cast<double>(number);
  auto value = parse_quantity(text, target.info.dimension);
  if (!value) return Problem{target.name + ": " + value.error()};
  return value;
}

Result<Order, std::string> parse_order(const Connection& connection, const std::string& text) {
  const auto equals = text.find('=');
  if (equals == std::string::npos)
    return Problem{"'" + text + "' has no value: expected such as 'setpoint=50 %'"};
  auto target = find_target(connection, text.substr(0, equals), true);
  if (!target) return Problem{target.error()};
  const auto value = parse_value(*target, text.substr(equals + 1));
  if (!value) return Problem{value.error()};
  const auto words = encode_row(target->row, *value);
  if (words.saturated) {
    return Problem{target->name + ": " + bench::describe_value(target->info, *value) +
                   " does not fit its register"};
  }
  return Order{*target, *value};
}

std::optional<int> write_one(io::Client& client, const Order& order) {
  const auto& row = order.target.row;
  const auto words = encode_row(row, order.value);
  const auto done =
      is_bit_table(row.table)
          ? client.write_bits(order.target.id, row.address, {order.value != 0.0})
          : client.write_registers(order.target.id, row.address,
                                   Words(words.words.begin(), words.words.begin() + words.used));
  if (!done) return exit_code_of(done.error());
  print(order.target.name + " written: " + bench::describe_value(order.target.info, order.value) + "\n");
  return std::nullopt;
}

/// Tells whoever wrote once that the unit now expects to be asked again.
void warn_if_armed(const Connection& connection) {
  if (!connection.bench) return;
  const auto index = connection.bench->find_unit(connection.unit);
  if (!index) return;
  const auto& loss = connection.bench->units[*index].unit.comms_loss;
  const bool counts =
      std::find(loss.lines.begin(), loss.lines.end(), connection.line_name) != loss.lines.end();
  if (!counts || loss.timeout <= Duration{}) return;
  const auto timeout = format_quantity(to_seconds(loss.timeout), Dimension::time);
  print("Note: this write has armed the comms-loss watchdog of " + connection.unit + " (" +
        std::string(to_word(loss.policy)) + ") if nobody else keeps it fed: it acts " + timeout +
        " after the last request. Use --every to keep writing.\n");
}

int write_again_and_again(StopSignals& signals, io::Client& client, const std::vector<Order>& orders,
                          Duration every) {
  std::mutex mutex;
  std::condition_variable stopped;
  bool stop = false;
  signals.watch([&] {
    const std::lock_guard lock(mutex);
    stop = true;
    stopped.notify_all();
  });
  auto due = std::chrono::steady_clock::now();
  std::unique_lock lock(mutex);
  while (!stop) {
    lock.unlock();
    for (const auto& order : orders)
      if (const auto failed = write_one(client, order); failed && *failed == kInputUnusable) return *failed;
    lock.lock();
    due += every;
    stopped.wait_until(lock, due, [&] { return stop; });
  }
  return kAllWell;
}

Result<Duration, std::string> parse_time(const std::string& flag, const std::string& text) {
  const auto seconds = parse_quantity(text, Dimension::time);
  if (!seconds) return Problem{flag + ": " + seconds.error()};
  if (*seconds < 0.001 || *seconds > 3600)
    return Problem{flag + ": expected 1 ms to 1 h, found '" + text + "'"};
  return from_seconds(*seconds);
}

}  // namespace

int read(const MasterOptions& options) {
  const auto timeout = parse_time("--timeout", options.timeout);
  if (!timeout) {
    complain(timeout.error());
    return kInputUnusable;
  }
  const auto connection = connect(options);
  if (!connection) return kInputUnusable;
  std::vector<Target> targets;
  for (const auto& name : options.points) {
    auto target = find_target(*connection, name, false);
    if (!target) {
      complain(target.error());
      return kInputUnusable;
    }
    targets.push_back(*target);
  }
  const auto client = io::Client::open(connection->line, *timeout);
  if (!client) {
    complain(client.error());
    return kSurroundingsFailed;
  }
  return read_all(**client, targets);
}

int write(const MasterOptions& options) {
  StopSignals signals;
  const auto timeout = parse_time("--timeout", options.timeout);
  const auto every = parse_time("--every", options.every.empty() ? "1 s" : options.every);
  if (!timeout || !every) {
    complain(!timeout ? timeout.error() : every.error());
    return kInputUnusable;
  }
  const auto connection = connect(options);
  if (!connection) return kInputUnusable;
  std::vector<Order> orders;
  for (const auto& text : options.points) {
    const auto order = parse_order(*connection, text);
    if (!order) {
      complain(order.error());
      return kInputUnusable;
    }
    orders.push_back(*order);
  }
  const auto client = io::Client::open(connection->line, *timeout);
  if (!client) {
    complain(client.error());
    return kSurroundingsFailed;
  }
  if (!options.every.empty()) return write_again_and_again(signals, **client, orders, *every);
  for (const auto& order : orders)
    if (const auto failed = write_one(**client, order)) return *failed;
  warn_if_armed(*connection);
  return kAllWell;
}

}  // namespace emberline::cli
