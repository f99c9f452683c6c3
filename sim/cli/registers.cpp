#include <algorithm>
#include <map>
#include <set>

#include "sim/base/quantity.hpp"
#include "sim/cli/commands.hpp"
#include "sim/cli/exit_code.hpp"
#include "sim/cli/output.hpp"
#include "sim/io/files/load.hpp"

namespace emberline::cli {
namespace {

using registers::Row;
using registers::Type;

std::string_view word_of(modbus::Table table) {
  switch (table) {
    case modbus::Table::coils:
      return "Coils (function codes 01, 05, 0F)";
    case modbus::Table::discrete_inputs:
      return "Discrete inputs (function code 02)";
    case modbus::Table::input_registers:
      return "Input registers (function code 04)";
    case modbus::Table::holding_registers:
      return "Holding registers (function codes 03, 06, 10)";
  }
  return "";
}

std::string_view word_of(registers::Access access) {
  switch (access) {
    case registers::Access::read_only:
      return "read";
    case registers::Access::read_write:
      return "read/write";
    case registers::Access::write_only:
      return "write";
  }
  return "";
}

std::string scale_text(const Row& row) {
  const auto dimension = point_info(row.point).dimension;
  if (row.layout.type == Type::bit) return "";
  const double natural = row.layout.scale / natural_factor(dimension);
  const auto unit = natural_unit(dimension);
  if (unit.empty()) return natural == 1.0 ? "" : format_number(natural);
  return natural == 1.0 ? std::string(unit) : format_quantity(row.layout.scale, dimension);
}

std::string renumbered(std::string_view what, const std::map<int, int>& numbers,
                       std::span<const registers::Word> words) {
  std::string text;
  for (const auto& [ours, carried] : numbers) {
    for (const auto& [word, number] : words)
      if (number == ours)
        text += (text.empty() ? "" : ", ") + std::string(word) + "=" + std::to_string(carried);
  }
  return text.empty() ? text : std::string(what) + " " + text;
}

std::string notes(const Row& row) {
  const auto& info = point_info(row.point);
  std::string text;
  const auto add = [&](const std::string& part) {
    if (!part.empty()) text += (text.empty() ? "" : "; ") + part;
  };
  if (row.flag) {
    for (const auto& [word, number] : info.flags)
      if (number == *row.flag) add("1 = " + std::string(word));
  }
  if (row.range) {
    add(format_quantity(row.range->first, info.dimension) + " to " +
        format_quantity(row.range->second, info.dimension));
  }
  if (register_count(row.layout) == 2) {
    add(row.layout.word_order == registers::WordOrder::high_first ? "high word first" : "low word first");
  }
  if (row.layout.byte_order == registers::ByteOrder::low_first) add("low byte first");
  if (row.kept) add("kept: do not write it cyclically");
  add(renumbered("values", row.values, info.values));
  add(renumbered("bits", row.flags, info.flags));
  add(std::string(info.meaning));
  return text;
}

std::vector<std::string> cells(const Row& row) {
  auto address = registers::hexadecimal(row.address);
  if (row.layout.type == Type::bit &&
      (row.table == modbus::Table::holding_registers || row.table == modbus::Table::input_registers)) {
    address += "." + std::to_string(row.bit_position);
  }
  return {address,
          std::to_string(row.address),
          registers::reference_number(row.address, row.table),
          std::string(point_info(row.point).name),
          std::string(to_word(row.layout.type)),
          scale_text(row),
          std::string(word_of(row.access)),
          notes(row)};
}

std::string aligned(const std::vector<std::vector<std::string>>& lines) {
  std::vector<std::size_t> widths;
  for (const auto& line : lines) {
    widths.resize(std::max(widths.size(), line.size()));
    for (std::size_t i = 0; i < line.size(); ++i) widths[i] = std::max(widths[i], line[i].size());
  }
  std::string text;
  for (const auto& line : lines) {
    std::string out = " ";
    for (std::size_t i = 0; i < line.size(); ++i) {
      out += " " + line[i];
      if (i + 1 < line.size()) out += std::string(widths[i] - line[i].size() + 1, ' ');
    }
    while (!out.empty() && out.back() == ' ') out.pop_back();
    text += out + "\n";
  }
  return text;
}

void list(const registers::RegisterTable& table) {
  print(table.title() + "\n");
  for (const auto kind : {modbus::Table::holding_registers, modbus::Table::input_registers,
                          modbus::Table::coils, modbus::Table::discrete_inputs}) {
    std::vector<std::vector<std::string>> lines;
    lines.push_back({"address", "", "reference", "point", "as", "scale", "access", "notes"});
    for (const auto& row : table.rows())
      if (row.table == kind) lines.push_back(cells(row));
    if (lines.size() > 1) print("\n" + std::string(word_of(kind)) + "\n" + aligned(lines));
  }
}

int list_bench(const std::string& file) {
  const auto spec = io::load_bench(file);
  if (!spec) {
    complain(spec.error());
    return kInputUnusable;
  }
  // Units that use one file share one listing.
  std::map<std::string, std::string> users;
  for (const auto& entry : spec->units) {
    auto& names = users[entry.unit.table->title()];
    names += (names.empty() ? "" : ", ") + entry.unit.name;
  }
  std::set<std::string> listed;
  for (const auto& entry : spec->units) {
    const auto& title = entry.unit.table->title();
    if (!listed.insert(title).second) continue;
    print((listed.size() > 1 ? "\n" : "") + users[title] + ": ");
    list(*entry.unit.table);
  }
  return kAllWell;
}

}  // namespace

int registers(const std::string& file) {
  const auto kind = io::kind_of(file);
  if (!kind) {
    complain(kind.error());
    return kInputUnusable;
  }
  if (*kind == io::FileKind::bench) return list_bench(file);
  if (*kind == io::FileKind::scenario) {
    complain(file + ": a scenario has no registers of its own: expected a register table or a bench");
    return kInputUnusable;
  }
  const auto table = io::load_register_table(file);
  if (!table) {
    complain(table.error());
    return kInputUnusable;
  }
  list(**table);
  return kAllWell;
}

}  // namespace emberline::cli
