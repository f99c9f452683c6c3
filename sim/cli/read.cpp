#include <span>

#include "sim/cli/commands.hpp"
#include "sim/cli/connection.hpp"
#include "sim/cli/exit_code.hpp"
#include "sim/cli/output.hpp"
#include "sim/rehearsal/block_plan.hpp"

namespace emberline::cli {
namespace {

using rehearsal::Target;
using Words = std::vector<std::uint16_t>;

/// A line about what stands in a target's registers.
std::string shown(const Target& target, std::span<const std::uint16_t> words) {
  const auto& row = target.row;
  return target.name + " = " +
         (row.layout.type == registers::Type::text
              ? shown_text(words, row.layout)
              : bench::describe_value(target.info, decode_row(row, words))) +
         "\n";
}

std::size_t size_of(const Target& target) {
  return modbus::carries_bits(target.row.table) ? 1
                                                : static_cast<std::size_t>(register_count(target.row.layout));
}

/// Reads one block and writes the lines of the targets that lie in it.
std::optional<int> read_block(io::Client& client, const rehearsal::BlockRead& block,
                              const std::vector<Target>& targets, std::vector<std::string>& lines) {
  const auto& lead = targets[block.lead];
  Words words;
  if (modbus::carries_bits(lead.row.table)) {
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
    lines[i] = shown(targets[i], std::span<const std::uint16_t>(words).subspan(offset, size_of(targets[i])));
  }
  return std::nullopt;
}

int read_all(io::Client& client, const std::vector<Target>& targets) {
  std::vector<std::string> lines(targets.size());
  for (const auto& block : rehearsal::plan_blocks(targets)) {
    if (const auto failed = read_block(client, block, targets, lines)) return *failed;
  }
  for (const auto& line : lines) print(line);
  return kAllWell;
}

}  // namespace

int read(const MasterOptions& options) {
  const auto timeout = parse_time("--timeout", options.timeout);
  if (!timeout) {
    complain(timeout.error());
    return kInputUnusable;
  }
  const auto connection = find_connection(options);
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

}  // namespace emberline::cli
