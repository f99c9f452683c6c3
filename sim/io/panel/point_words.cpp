#include "sim/io/panel/point_words.hpp"

#include <algorithm>
#include <cmath>

#include "sim/bench/signal.hpp"
#include "sim/registers/address.hpp"
#include "sim/registers/register_table.hpp"

namespace emberline::io {
namespace {

using modbus::Table;
using registers::Row;

constexpr const char* kUnmapped = "not in the table";

std::string value_words(const bench::SignalInfo& info, double value) {
  if (std::isnan(value)) return "no value";
  constexpr double kKilowattHour_J = 3.6e6;
  if (info.dimension == Dimension::energy && std::abs(value) < 0.1 * kKilowattHour_J) {
    // What a heater took in its first minutes would be all zeros behind the point.
    const double millionths_Wh = std::round(value / kKilowattHour_J * 1e9);
    return format_number(millionths_Wh / 1e6) + " Wh";
  }
  return bench::describe_value(info, value);
}

bool same_layout(const registers::Layout& one, const registers::Layout& other) {
  return one.type == other.type && one.scale == other.scale && one.word_order == other.word_order &&
         one.byte_order == other.byte_order && one.broken == other.broken && one.coding == other.coding &&
         one.text_registers == other.text_registers && one.mask == other.mask;
}

/// Whether two units have the same at the same addresses.
bool same_table(const unit::UnitSpec& one, const unit::UnitSpec& other) {
  if (one.table == other.table) return true;
  if (one.table == nullptr || other.table == nullptr) return false;
  const auto& rows = one.table->rows();
  const auto& others = other.table->rows();
  return std::equal(rows.begin(), rows.end(), others.begin(), others.end(), [](const Row& a, const Row& b) {
    return a.table == b.table && a.address == b.address && a.point == b.point &&
           same_layout(a.layout, b.layout) && a.bit_position == b.bit_position && a.flag == b.flag &&
           a.values == b.values && a.flags == b.flags && a.text == b.text && a.fixed == b.fixed &&
           a.fixed_text == b.fixed_text && a.write_mask == b.write_mask;
  });
}

/// The value of a row, of a bit as on or off unless it stands for a flag.
std::string row_words(const Row& row, std::span<const std::uint16_t> words) {
  if (row.layout.type == registers::Type::text) return "'" + registers::shown_text(words, row.layout) + "'";
  const double value = registers::decode_row(row, words);
  if (row.fixed) return format_number(value);
  const auto& point = registers::point_info(row.point);
  if (row.layout.type == registers::Type::bit && !row.flag) return value != 0.0 ? "on" : "off";
  return value_words({point.dimension, point.values, point.flags}, value);
}

std::string meaning_of(const Row& row) {
  if (carries_point(row)) return std::string(registers::point_info(row.point).meaning);
  return row.text ? "what the unit says of itself" : "stated by the register table, always the same";
}

/// What stands at one address and those that belong to it.
struct Found {
  std::size_t before = 0;  ///< addresses of it that lie before this one
  std::size_t count = 1;
  std::string name;
  std::string meaning;
  std::vector<const Row*> rows;               ///< of a unit; several bits may share a register
  std::optional<bench::SignalInfo> info{};    ///< of an io-block
  std::optional<registers::Layout> layout{};  ///< of an io-block's input
};

std::optional<Found> find_in_unit(const unit::UnitSpec& unit, Table table, std::size_t address) {
  if (unit.table == nullptr) return std::nullopt;
  Found found;
  for (const auto& row : unit.table->rows()) {
    const auto count = static_cast<std::size_t>(registers::register_count(row.layout));
    if (row.table != table || address < row.address || address >= row.address + count) continue;
    std::string name(name_of(row));
    if (row.flag)
      for (const auto& [word, bit] : registers::point_info(row.point).flags)
        if (bit == *row.flag) name += " " + std::string(word);
    found.name += (found.rows.empty() ? "" : ", ") + name;
    if (found.rows.empty()) found.meaning = meaning_of(row);
    found.before = address - row.address;
    found.count = count;
    found.rows.push_back(&row);
  }
  if (found.rows.empty()) return std::nullopt;
  return found;
}

std::optional<Found> find_in_block(const SlaveView& slave, Table table, std::size_t address) {
  const auto& block = *slave.block;
  const auto info_of = [&](const std::string& signal) {
    const auto id = bench::find_signal(*slave.spec, signal);
    return id ? bench::signal_info(*slave.spec, *id) : bench::SignalInfo{Dimension::logical, {}, {}};
  };
  const bench::SignalInfo contact{Dimension::logical, {}, {}};
  if (carries_bits(table)) {
    const auto& wires = table == Table::coils ? block.coils : block.discrete;
    const auto wire = wires.find(static_cast<std::uint16_t>(address));
    if (wire == wires.end()) return std::nullopt;
    return Found{0, 1, wire->second, "", {}, contact, {}};
  }
  if (table != Table::input_registers) return std::nullopt;
  for (const auto& [first, input] : block.input) {
    const auto count = static_cast<std::size_t>(registers::register_count(input.layout));
    if (address < first || address >= first + count) continue;
    return Found{address - first, count, input.signal, "", {}, info_of(input.signal), input.layout};
  }
  return std::nullopt;
}

std::optional<Found> find_at(const SlaveView& slave, Table table, std::size_t address) {
  if (slave.unit != nullptr) return find_in_unit(*slave.unit, table, address);
  if (slave.block != nullptr) return find_in_block(slave, table, address);
  return std::nullopt;
}

std::string found_words(const Found& found, std::span<const std::uint16_t> words) {
  if (found.rows.empty())
    return value_words(*found.info, found.layout ? registers::decode(words, *found.layout) : words.front());
  std::string text;
  for (const auto* row : found.rows) text += (text.empty() ? "" : ", ") + row_words(*row, words);
  return text;
}

std::string plain_number(std::span<const std::uint16_t> words) {
  std::string text;
  for (const auto word : words) text += (text.empty() ? "" : " ") + std::to_string(word);
  return text;
}

}  // namespace

std::string SlaveView::name() const {
  if (everybody) return "everybody";
  if (unit != nullptr) return unit->name;
  return block != nullptr ? block->name : "id " + std::to_string(id);
}

SlaveView slave_view(const bench::BenchSpec& spec, std::size_t line, int id) {
  SlaveView view;
  view.spec = &spec;
  view.id = id;
  view.everybody = id == 0 && bench::carries_rtu(spec.lines.at(line).kind);
  if (view.everybody) {
    for (const auto& slave : spec.slaves_on(line)) {
      const auto* unit = slave.unit ? &spec.units[*slave.unit].unit : nullptr;
      const bool agrees = unit != nullptr && (view.unit == nullptr || same_table(*view.unit, *unit));
      view.unit = agrees ? unit : nullptr;
      if (!agrees) break;  // an address is not the same to all of them
    }
    return view;
  }
  const auto slave = spec.slave_on(line, id);
  if (!slave) return view;
  if (slave->unit) {
    view.unit = &spec.units[*slave->unit].unit;
  } else if (const auto block = spec.find_io_block(slave->name)) {
    view.block = &spec.io_blocks[*block];
  }
  return view;
}

std::vector<AddressPiece> pieces_at(const SlaveView& slave, Table table, std::uint16_t first,
                                    std::size_t count, std::span<const std::uint16_t> words) {
  // Whoever asks for more is refused; nobody has to wait for the names of 65,535 addresses.
  count = std::min(count, static_cast<std::size_t>(carries_bits(table) ? modbus::kReadBitsMax
                                                                       : modbus::kReadRegistersMax));
  std::vector<AddressPiece> pieces;
  const auto carried = [&](std::size_t offset, std::size_t length) {
    return offset + length <= words.size() ? words.subspan(offset, length) : std::span<const std::uint16_t>{};
  };
  for (std::size_t offset = 0; offset < count;) {
    const auto found = find_at(slave, table, first + offset);
    AddressPiece piece;
    piece.offset = offset;
    if (!found) {
      piece.name = kUnmapped;
      piece.mapped = false;
      if (!pieces.empty() && pieces.back().name == kUnmapped) {
        ++pieces.back().count;
        if (const auto word = carried(offset, 1); !word.empty())
          pieces.back().value += " " + plain_number(word);
        ++offset;
        continue;
      }
      if (const auto word = carried(offset, 1); !word.empty()) piece.value = plain_number(word);
    } else {
      const bool whole = found->before == 0 && offset + found->count <= count;
      piece.count = whole ? found->count : 1;
      piece.name = whole ? found->name : (found->count == 2 ? "half of " : "part of ") + found->name;
      piece.meaning = found->meaning;
      if (const auto held = carried(offset, piece.count); !held.empty())
        piece.value = whole ? found_words(*found, held) : plain_number(held);
    }
    offset += piece.count;
    pieces.push_back(std::move(piece));
  }
  return pieces;
}

std::string listed_pieces(const std::vector<AddressPiece>& pieces) {
  constexpr std::size_t kMost = 8;
  std::string text;
  for (std::size_t i = 0; i < pieces.size() && i < kMost; ++i) {
    text += (i == 0 ? "" : ", ") + pieces[i].name;
    if (!pieces[i].value.empty()) text += " " + pieces[i].value;
  }
  if (pieces.size() > kMost) text += " and " + std::to_string(pieces.size() - kMost) + " more";
  return text;
}

std::string set_pieces(const SlaveView& slave, Table table, std::uint16_t first,
                       const std::vector<AddressPiece>& pieces) {
  std::vector<AddressPiece> told = pieces;
  for (auto& piece : told) {
    if (piece.mapped) continue;
    const std::size_t from = first + piece.offset;
    const std::size_t to = from + piece.count - 1;
    const auto address = [&](std::size_t number) {
      return number > 0xFFFF ? std::to_string(number)
                             : registers::both_ways(static_cast<std::uint16_t>(number), table);
    };
    const bool several = piece.count > 1;
    piece.name = carries_bits(table) ? "coil" : "register";
    piece.name += (several ? "s " : " ") + address(from);
    if (several) piece.name += " to " + address(to);
    if (slave.has_table())
      piece.name += several ? ", which are not in its table," : ", which is not in its table,";
    if (!piece.value.empty())
      piece.value = "to " + piece.value;
    else if (piece.name.back() == ',')
      piece.name.pop_back();
  }
  return listed_pieces(told);
}

}  // namespace emberline::io
