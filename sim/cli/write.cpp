#include <algorithm>
#include <chrono>
#include <vector>

#include "sim/base/duration_text.hpp"
#include "sim/base/quantity.hpp"
#include "sim/cli/commands.hpp"
#include "sim/cli/connection.hpp"
#include "sim/cli/exit_code.hpp"
#include "sim/cli/output.hpp"
#include "sim/cli/pause.hpp"
#include "sim/cli/stop_signals.hpp"

namespace emberline::cli {
namespace {

using rehearsal::Target;
using Words = std::vector<std::uint16_t>;
using Problem = Failure<std::string>;

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
      modbus::carries_bits(row.table)
          ? client.write_bits(order.target.id, row.address, {order.value != 0.0})
          : client.write_registers(order.target.id, row.address,
                                   Words(words.words.begin(), words.words.begin() + words.used));
  if (!done) return exit_code_of(done.error());
  print(order.target.name + " written: " + bench::describe_value(order.target.info, order.value) + "\n");
  return std::nullopt;
}

/// True if a single write of these points feeds the watchdog, and so arms it.
bool feeds(const unit::CommsLossSpec& loss, const Connection& connection, const std::vector<Order>& orders) {
  if (loss.timeout <= Duration{}) return false;
  // A tty path or HOST:PORT may be any line of the bench.
  const bool named_line = connection.bench->find_line(connection.line_name).has_value();
  if (named_line && std::find(loss.lines.begin(), loss.lines.end(), connection.line_name) == loss.lines.end())
    return false;
  if (loss.feeds != unit::Feeds::heartbeat) return true;
  return std::any_of(orders.begin(), orders.end(), [](const Order& order) {
    return order.target.row.point == registers::Point::heartbeat;
  });
}

/// Tells whoever wrote once that the unit may now expect to be asked again.
void note_armed(const Connection& connection, const std::vector<Order>& orders) {
  if (!connection.bench) {
    complain(
        "note: if this unit supervises its comms, this write has armed its watchdog; --every keeps it fed");
    return;
  }
  const auto index = connection.bench->find_unit(connection.unit);
  if (!index) return;
  const auto& loss = connection.bench->units[*index].unit.comms_loss;
  if (!feeds(loss, connection, orders)) return;
  complain("note: this write has armed the comms-loss watchdog of " + connection.unit + " (" +
           std::string(to_word(loss.policy)) + "): unless somebody keeps it fed it acts " +
           format_duration(loss.timeout) + " after the last request; --every keeps writing");
}

/// Until it is stopped. What fell due while nobody answered is not made up for: writes move real equipment.
int write_again_and_again(io::Client& client, const std::vector<Order>& orders, Duration every) {
  Pause pause;
  StopSignals signals;  // after what its thread uses
  signals.watch([&pause] { pause.stop(); });
  auto due = std::chrono::steady_clock::now();
  while (!pause.wait_until(due)) {
    for (const auto& order : orders)
      if (const auto failed = write_one(client, order); failed && *failed == kInputUnusable) return *failed;
    due = std::max(due + every, std::chrono::steady_clock::now());
  }
  return kAllWell;
}

}  // namespace

int write(const MasterOptions& options) {
  const auto timeout = parse_time("--timeout", options.timeout);
  const auto every = parse_time("--every", options.every.empty() ? "1 s" : options.every);
  if (!timeout || !every) {
    complain(!timeout ? timeout.error() : every.error());
    return kInputUnusable;
  }
  const auto connection = find_connection(options);
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
  if (!options.every.empty()) return write_again_and_again(**client, orders, *every);
  for (const auto& order : orders)
    if (const auto failed = write_one(**client, order)) return *failed;
  note_armed(*connection, orders);
  return kAllWell;
}

}  // namespace emberline::cli
