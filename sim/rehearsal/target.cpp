#include "sim/rehearsal/target.hpp"

#include <utility>

#include "sim/base/listed.hpp"
#include "sim/rehearsal/unknown_signal.hpp"

namespace emberline::rehearsal {
namespace {

using bench::SignalId;
using registers::Access;
using registers::Row;

/// A row made from an io-block's wiring. Its point stands for nothing; readers go by the layout alone.
Row io_row(modbus::Table table, std::uint16_t address, const registers::Layout& layout) {
  Row row;
  row.table = table;
  row.address = address;
  row.layout = layout;
  row.access = table == modbus::Table::coils ? Access::read_write : Access::read_only;
  return row;
}

Row bit_row(modbus::Table table, std::uint16_t address) {
  registers::Layout layout;
  layout.type = registers::Type::bit;
  return io_row(table, address, layout);
}

Target on_unit(const bench::BenchSpec& spec, std::size_t index, std::string_view name, const Row& row) {
  const auto& unit = spec.units[index].unit;
  Target target;
  target.name = std::string(name);
  target.slave = index;
  target.id = unit.id;
  target.slave_name = unit.name;
  target.lines = unit.lines;
  target.row = row;
  target.largest_block = unit.intake.largest_block.value_or(0);
  if (!carries_point(row)) return target;
  const auto& point = registers::point_info(row.point);
  target.info = {point.dimension, point.values, point.flags};
  return target;
}

Target on_io_block(const bench::BenchSpec& spec, std::size_t index, std::string_view name, Row row,
                   const bench::SignalInfo& info) {
  const auto& block = spec.io_blocks[index];
  Target target;
  target.name = std::string(name);
  target.io_block = true;
  target.slave = index;
  target.id = block.id;
  target.slave_name = block.name;
  target.lines = block.lines;
  target.row = std::move(row);
  target.info = info;
  return target;
}

/// IOBLOCK.coil.N, .discrete.N or .input.N, named as such.
Target named_io(const bench::BenchSpec& spec, SignalId signal, std::string_view name) {
  const auto info = bench::signal_info(spec, signal);
  switch (signal.kind) {
    case SignalId::Kind::io_coil:
      return on_io_block(spec, signal.index, name, bit_row(modbus::Table::coils, signal.sub), info);
    case SignalId::Kind::io_discrete:
      return on_io_block(spec, signal.index, name, bit_row(modbus::Table::discrete_inputs, signal.sub), info);
    default:
      break;
  }
  const auto& input = spec.io_blocks[signal.index].input.at(signal.sub);
  return on_io_block(spec, signal.index, name,
                     io_row(modbus::Table::input_registers, signal.sub, input.layout), info);
}

/// The first discrete input, else the first input register, of the first io-block that carries the signal.
std::optional<Target> carried(const bench::BenchSpec& spec, SignalId signal, std::string_view name) {
  const auto info = bench::signal_info(spec, signal);
  for (std::size_t i = 0; i < spec.io_blocks.size(); ++i) {
    for (const auto& [address, wired] : spec.io_blocks[i].discrete)
      if (bench::find_signal(spec, wired) == signal)
        return on_io_block(spec, i, name, bit_row(modbus::Table::discrete_inputs, address), info);
    for (const auto& [address, input] : spec.io_blocks[i].input)
      if (bench::find_signal(spec, input.signal) == signal)
        return on_io_block(spec, i, name, io_row(modbus::Table::input_registers, address, input.layout),
                           info);
  }
  return std::nullopt;
}

/// Name of the coil that drives a terminal or contactor; empty if none does.
std::string driving_coil(const bench::BenchSpec& spec, SignalId signal) {
  for (const auto& block : spec.io_blocks)
    for (const auto& [address, wired] : block.coils)
      if (bench::find_signal(spec, wired) == signal) return block.name + ".coil." + std::to_string(address);
  return {};
}

std::string why_not_writable(const bench::BenchSpec& spec, SignalId signal, std::string_view name) {
  const auto coil = driving_coil(spec, signal);
  if (!coil.empty())
    return in_quotes(name) + " is not written itself: write the coil that drives it, '" + coil + "'";
  return in_quotes(name) + " cannot be written by a master";
}

Result<Target, std::string> find_on_unit(const bench::BenchSpec& spec, SignalId signal, std::string_view name,
                                         bool for_writing) {
  const auto& unit = spec.units[signal.index].unit;
  const auto point = static_cast<registers::Point>(signal.sub);
  const Row* row = unit.table->find(point, for_writing);
  if (row != nullptr && for_writing && row->access == Access::read_only)
    return Failure{in_quotes(name) + " is read-only in the register table '" + unit.table->title() + "'"};
  if (row != nullptr && !for_writing && row->access == Access::write_only)
    return Failure{in_quotes(name) + " is write-only in the register table '" + unit.table->title() + "'"};
  if (row != nullptr) return on_unit(spec, signal.index, name, *row);
  if (!for_writing) {
    if (auto target = carried(spec, signal, name)) return std::move(*target);
  }
  return Failure{in_quotes(name) + " is not in the register table '" + unit.table->title() + "'"};
}

/// The unit and the text that UNIT.TEXT names.
struct NamedText {
  std::size_t unit;
  registers::TextPoint text;
};
std::optional<NamedText> find_named_text(const bench::BenchSpec& spec, std::string_view name) {
  const auto dot = name.rfind('.');
  if (dot == std::string_view::npos) return std::nullopt;
  const auto text = registers::find_text_point(name.substr(dot + 1));
  const auto unit = spec.find_unit(name.substr(0, dot));
  if (!text || !unit) return std::nullopt;
  return NamedText{*unit, *text};
}

}  // namespace

std::optional<Result<Target, std::string>> resolve_text(const bench::BenchSpec& spec, std::string_view name,
                                                        bool for_writing) {
  const auto named = find_named_text(spec, name);
  if (!named) return std::nullopt;
  if (for_writing) return Failure{in_quotes(name) + " is text and cannot be written by a master"};
  const auto& table = *spec.units[named->unit].unit.table;
  const Row* row = table.find_text(named->text);
  if (row == nullptr)
    return Failure{in_quotes(name) + " is not in the register table '" + table.title() + "'"};
  return on_unit(spec, named->unit, name, *row);
}

Result<Target, std::string> resolve_target(const bench::BenchSpec& spec, std::string_view name,
                                           bool for_writing) {
  const auto signal = bench::find_signal(spec, name);
  if (!signal && find_named_text(spec, name))
    return Failure{in_quotes(name) + " is text, which holds no value to go by"};
  if (!signal) return Failure{unknown_signal(spec, name)};
  switch (signal->kind) {
    case SignalId::Kind::unit_point:
      return find_on_unit(spec, *signal, name, for_writing);
    case SignalId::Kind::io_coil:
      return named_io(spec, *signal, name);
    case SignalId::Kind::io_discrete:
    case SignalId::Kind::io_input:
      if (for_writing) return Failure{in_quotes(name) + " is an input and cannot be written by a master"};
      return named_io(spec, *signal, name);
    default:
      break;
  }
  if (for_writing) return Failure{why_not_writable(spec, *signal, name)};
  if (auto target = carried(spec, *signal, name)) return std::move(*target);
  return Failure{in_quotes(name) + " is not carried by any io-block, so no master can read it"};
}

}  // namespace emberline::rehearsal
