#include "sim/registers/register_table.hpp"

#include <algorithm>
#include <bit>
#include <cassert>
#include <tuple>

#include "sim/registers/table_check.hpp"

namespace emberline::registers {
namespace {

using modbus::AddressRange;
using modbus::Refusal;
using modbus::Table;

bool readable(const Row& row) { return row.access != Access::write_only; }
bool is_plain(std::span<const Row> rows) {
  const Row& row = rows.front();
  const bool number = row.layout.type == Type::u16 || row.layout.type == Type::s16;
  return rows.size() == 1 && readable(row) && number && !row.fixed && !row.text && row.flags.empty() &&
         row.values.empty();
}

bool writable(const Row& row) { return row.access != Access::read_only; }

std::vector<Row> with_mirror(const TableParts& parts) {
  auto rows = parts.rows;
  if (!parts.input_same_as_holding) return rows;
  for (const auto& row : parts.rows) {
    if (row.table != Table::holding_registers || !readable(row)) continue;
    rows.push_back(row);
    rows.back().table = Table::input_registers;
    rows.back().access = Access::read_only;
    rows.back().write_mask.reset();
  }
  return rows;
}

/// Writable rows have a range, so that `out_of_range` says what becomes of a value the point does not take.
/// Words and free numbers need none: a number that is no word is out of range anyway.
void complete_range(Row& row) {
  if (!carries_point(row)) return;
  const auto& info = point_info(row.point);
  if (!writable(row) || !info.limits || !info.values.empty()) return;
  const auto widest = row.range.value_or(carried_range(row.layout));
  row.range =
      std::pair{std::max(widest.first, info.limits->first), std::min(widest.second, info.limits->second)};
}

auto key_of(const Row& row) {
  return std::tuple(row.table, row.address, std::countr_zero(static_cast<unsigned>(own_bits(row))));
}

/// Adds what a row carries, from its register `from` on, to as many registers as there is room for.
void read_row(const Row& row, std::size_t from, std::span<std::uint16_t> into, const PointAccess& points) {
  const auto add = [&](std::span<const std::uint16_t> words) {
    for (std::size_t i = 0; i < into.size(); ++i)
      into[i] = static_cast<std::uint16_t>(into[i] | words[from + i]);
  };
  if (row.layout.type == Type::text)
    return add(encode_text(row.text ? points.text(*row.text) : row.fixed_text, row.layout));
  const double value = row.fixed ? *row.fixed : points.read(row.point);
  const auto words = encode_row(row, value);
  if (words.saturated) points.saturated(row, value);
  add(words.words);
}

}  // namespace

Result<std::shared_ptr<const RegisterTable>, std::vector<Diagnostic>> make_register_table(TableParts parts) {
  if (auto problems = problems_of(parts); !problems.empty()) return Failure{std::move(problems)};
  std::shared_ptr<RegisterTable> table(new RegisterTable());
  for (auto& row : parts.rows) complete_range(row);
  const auto in_file_order = with_mirror(parts);
  table->title_ = std::move(parts.title);
  table->gaps_ = parts.gaps;
  table->index(in_file_order);
  return std::shared_ptr<const RegisterTable>(std::move(table));
}

void RegisterTable::index(const std::vector<Row>& in_file_order) {
  rows_ = in_file_order;
  std::sort(rows_.begin(), rows_.end(), [](const Row& a, const Row& b) { return key_of(a) < key_of(b); });

  for (std::size_t i = 0; i < rows_.size(); ++i) {
    const Row& row = rows_[i];
    auto& cells = cells_[static_cast<std::size_t>(row.table)];
    if (!cells.empty() && cells.back().address == row.address) {  // more bits of the same register
      ++cells.back().row_count;
      continue;
    }
    for (int word = 0; word < register_count(row.layout); ++word)
      cells.push_back(
          {static_cast<std::uint16_t>(row.address + word), static_cast<std::uint16_t>(word), i, 1});
  }
  for (auto& cells : cells_)
    for (auto& cell : cells) {
      cell.write_mask = write_mask_of(cell);
      cell.plain = is_plain(rows_of(cell));
      if (cell.plain) cell.point = rows_of(cell).front().point;
    }

  // Two rounds: the holding registers have the first say, then the other tables.
  const auto offer = [this](const Row& row) {
    const auto at = std::lower_bound(rows_.begin(), rows_.end(), row,
                                     [](const Row& a, const Row& b) { return key_of(a) < key_of(b); });
    const auto found = static_cast<std::size_t>(at - rows_.begin());
    if (row.text) texts_.emplace(*row.text, found);
    if (!carries_point(row)) return;
    const auto point = static_cast<std::size_t>(row.point);
    if (readable(row) && !for_reading_[point]) for_reading_[point] = found;
    if (writable(row) && !for_writing_[point]) for_writing_[point] = found;
    if (row.kept) kept_[point] = true;
  };
  for (const auto& row : in_file_order)
    if (row.table == Table::holding_registers) offer(row);
  for (const auto& row : in_file_order)
    if (row.table != Table::holding_registers) offer(row);
}

const std::string& RegisterTable::title() const { return title_; }
Gaps RegisterTable::gaps() const { return gaps_; }
const std::vector<Row>& RegisterTable::rows() const { return rows_; }

const Row* RegisterTable::find(Point point, bool for_writing) const {
  const auto index = static_cast<std::size_t>(point);
  auto found = for_writing ? for_writing_[index] : for_reading_[index];
  if (!found) found = for_writing ? for_reading_[index] : for_writing_[index];
  return found ? &rows_[*found] : nullptr;
}

const Row* RegisterTable::row_at(Table table, int address) const {
  const auto& mapped = cells(table);
  const auto cell = std::lower_bound(mapped.begin(), mapped.end(), address,
                                     [](const Cell& c, int other) { return c.address < other; });
  return cell != mapped.end() && cell->address == address ? &rows_[cell->first_row] : nullptr;
}

const Row* RegisterTable::find_text(TextPoint point) const {
  const auto found = texts_.find(point);
  return found == texts_.end() ? nullptr : &rows_[found->second];
}

bool RegisterTable::keeps(Point point) const { return kept_[static_cast<std::size_t>(point)]; }

const RegisterTable::Cells& RegisterTable::cells(Table table) const {
  return cells_[static_cast<std::size_t>(table)];
}

std::span<const Row> RegisterTable::rows_of(const Cell& cell) const {
  return std::span(rows_).subspan(cell.first_row, cell.row_count);
}

std::uint16_t RegisterTable::plain_word(const Cell& cell, double value, const PointAccess& points,
                                        LastWords::Word& last) const {
  const Row& row = rows_[cell.first_row];
  const Words words = encode(value, row.layout);
  if (words.saturated) points.saturated(row, value);
  // What does not fit is told every time.
  last = {std::bit_cast<std::uint64_t>(value), words.words[0], !words.saturated};
  return words.words[0];
}

Result<std::vector<std::uint16_t>, Refusal> RegisterTable::read_registers(Table table, AddressRange range,
                                                                          const PointAccess& points,
                                                                          LastWords& last) const {
  assert(table == Table::holding_registers || table == Table::input_registers);
  if (last.words_.size() != rows_.size()) last.words_.assign(rows_.size(), {});
  const auto& mapped = cells(table);
  const unsigned end = unsigned{range.first} + range.count;
  std::vector<std::uint16_t> values(range.count, 0);
  std::size_t found = 0;
  auto cell = std::lower_bound(mapped.begin(), mapped.end(), range.first,
                               [](const Cell& c, std::uint16_t address) { return c.address < address; });
  const auto behind = mapped.end();
  auto* const words = values.data();
  auto* const last_words = last.words_.data();
  while (cell != behind && cell->address < end) {
    if (cell->plain) {  // what most registers are
      const double value = points.read(cell->point);
      auto& before = last_words[cell->first_row];
      // By its bits: a NaN is the same as before then, and zeros keep their signs.
      const bool same = before.known && before.bits == std::bit_cast<std::uint64_t>(value);
      words[cell->address - range.first] = same ? before.word : plain_word(*cell, value, points, before);
      ++found;
      ++cell;
      continue;
    }
    const auto rows = rows_of(*cell);
    const auto size = static_cast<unsigned>(register_count(rows.front().layout));
    // All registers of a value come from one reading, so that they always belong together.
    const auto inside = std::min(size - cell->word, end - cell->address);
    bool any_readable = false;
    for (const auto& row : rows) {
      if (!readable(row)) continue;
      if (inside != size && row.split_refused) return Failure{Refusal::illegal_data_address};
      any_readable = true;
      read_row(row, cell->word, std::span(values).subspan(cell->address - range.first, inside), points);
    }
    if (any_readable) found += inside;
    cell += inside;
  }
  if (found == 0 || (found < range.count && gaps_ == Gaps::exception))
    return Failure{Refusal::illegal_data_address};
  return values;
}

Result<std::vector<bool>, Refusal> RegisterTable::read_bits(Table table, AddressRange range,
                                                            const PointAccess& points) const {
  assert(table == Table::coils || table == Table::discrete_inputs);
  const auto& mapped = cells(table);
  const unsigned end = unsigned{range.first} + range.count;
  std::vector<bool> values(range.count, false);
  std::size_t found = 0;
  auto cell = std::lower_bound(mapped.begin(), mapped.end(), range.first,
                               [](const Cell& c, std::uint16_t address) { return c.address < address; });
  for (; cell != mapped.end() && cell->address < end; ++cell) {
    const Row& row = rows_of(*cell).front();
    if (!readable(row)) continue;
    ++found;
    std::uint16_t word = 0;
    read_row(row, 0, std::span(&word, 1), points);
    values[cell->address - range.first] = word != 0;
  }
  if (found == 0 || (found < range.count && gaps_ == Gaps::exception))
    return Failure{Refusal::illegal_data_address};
  return values;
}

}  // namespace emberline::registers
