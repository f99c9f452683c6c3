#include "sim/bench/hints.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <optional>
#include <string_view>
#include <unordered_map>
#include <utility>

#include "sim/base/quantity.hpp"
#include "sim/bench/master_name.hpp"
#include "sim/modbus/pdu.hpp"
#include "sim/registers/address.hpp"
#include "sim/registers/register_table.hpp"

namespace emberline::bench {
namespace {

using registers::Row;

int width(const Row& row) { return registers::register_count(row.layout); }

std::string counted_registers(const Row& row) { return width(row) == 2 ? "two" : "four"; }

const Row* row_at(const unit::UnitSpec& unit, modbus::Table table, int address) {
  return unit.table->row_at(table, address);
}

bool covers(const unit::UnitSpec& unit, modbus::Table table, int first, int count) {
  if (first < 0) return false;
  for (int address = first; address < first + count; ++address)
    if (row_at(unit, table, address) == nullptr) return false;
  return true;
}

std::string_view name_of(modbus::Table table) {
  switch (table) {
    case modbus::Table::coils:
      return "coils";
    case modbus::Table::discrete_inputs:
      return "discrete inputs";
    case modbus::Table::input_registers:
      return "input registers";
    case modbus::Table::holding_registers:
      return "holding registers";
  }
  return "";
}

/// The limits of what may be written to a row, SI.
std::optional<std::pair<double, double>> limits_of(const Row& row) {
  return row.range ? row.range : registers::point_info(row.point).limits;
}

bool plausible(const Row& row, double value) {
  const auto limits = limits_of(row);
  return limits && value >= limits->first && value <= limits->second;
}

double with_order(const Row& row, std::span<const std::uint16_t> words, bool swap_words, bool swap_bytes) {
  registers::Layout layout = row.layout;
  const auto other_word = [](registers::WordOrder order) {
    return order == registers::WordOrder::high_first ? registers::WordOrder::low_first
                                                     : registers::WordOrder::high_first;
  };
  const auto other_byte = [](registers::ByteOrder order) {
    return order == registers::ByteOrder::high_first ? registers::ByteOrder::low_first
                                                     : registers::ByteOrder::high_first;
  };
  if (swap_words) layout.word_order = other_word(layout.word_order);
  if (swap_bytes) layout.byte_order = other_byte(layout.byte_order);
  return registers::decode(words, layout);
}

std::string shown(const Row& row, double value) {
  return format_quantity(value, registers::point_info(row.point).dimension);
}

std::string word_of(const Row& row) { return std::string(name_of(row)); }

/// A number that a master writes as a whole. Text and fixed rows are no points, and bits share a register.
bool is_number(const Row& row) { return carries_point(row) && !shares_register(row); }

}  // namespace

Hints::Hints(const BenchSpec& spec, JournalSink& journal) : spec_(spec), journal_(journal) {
  // All at once: with hundreds of lines, who is on each of them is too much to ask.
  std::unordered_map<std::string_view, std::size_t> lines;
  for (std::size_t line = 0; line < spec.lines.size(); ++line) lines.emplace(spec.lines[line].name, line);
  std::vector<int> slaves(spec.lines.size(), 0);
  std::vector<const unit::UnitSpec*> last(spec.lines.size(), nullptr);
  for (const auto& entry : spec.units) {
    if (const Row* row =
            entry.unit.table ? entry.unit.table->find(registers::Point::setpoint, true) : nullptr)
      setpoints_.emplace(entry.unit.name, Setpoints{row, {}});
    for (const auto& name : entry.unit.lines) {
      const auto line = lines.find(name);
      if (line == lines.end()) continue;
      ++slaves[line->second];
      last[line->second] = &entry.unit;
      if (entry.unit.table) units_[{line->second, entry.unit.id}].unit = &entry.unit;
    }
  }
  for (const auto& block : spec.io_blocks)
    for (const auto& name : block.lines)
      if (const auto line = lines.find(name); line != lines.end()) ++slaves[line->second];
  for (std::size_t line = 0; line < spec.lines.size(); ++line) {
    // Where there is just one, it is reached by these too (Messaging on TCP/IP V1.0b, 4.4.1).
    if (carries_rtu(spec.lines[line].kind) || slaves[line] != 1 || !last[line] || !last[line]->table)
      continue;
    for (const int id : {0, 255}) units_[{line, id}].unit = last[line];
  }
}

void Hints::once(SimTime at, const std::string& about, std::string_view master, const std::string& kind,
                 std::string sentence) {
  if (!said_.insert(about + '\n' + std::string(without_port(master)) + '\n' + kind).second) return;
  journal_.note(at, about, "hint: " + std::move(sentence));
}

void Hints::request(const RequestSeen& request) {
  if (!request.addressed) {
    asks_nobody(request);
    return;
  }
  const auto found = units_.find({request.line, request.unit_id});
  if (found == units_.end()) return;
  auto& [known, nothing_wrong] = found->second;
  const unit::UnitSpec& unit = *known;
  const bool unmapped = modbus::refusal_of(request.answer) == modbus::Refusal::illegal_data_address;
  if (!unmapped &&
      std::equal(request.pdu.begin(), request.pdu.end(), nothing_wrong.begin(), nothing_wrong.end()))
    return;
  const auto touched = modbus::touched_by(request.pdu);
  if (!touched) return;
  const auto function = static_cast<modbus::Function>(request.pdu[0]);
  if (touched->written.count == 0) {
    if (unmapped) {
      look_beside(request, unit, touched->table, touched->read);
    } else if (!modbus::carries_bits(touched->table) &&
               !look_at_halves(request, unit, touched->table, touched->read)) {
      nothing_wrong.assign(request.pdu.begin(), request.pdu.end());
    }
  } else if (function == modbus::Function::write_single_register ||
             function == modbus::Function::write_multiple_registers) {
    if (unmapped)
      look_beside(request, unit, touched->table, touched->written);
    else
      look_at_order(request, unit, touched->written.first,
                    request.pdu.last(std::size_t{2} * touched->written.count));
  }
}

void Hints::asks_nobody(const RequestSeen& request) {
  // On a real wire the id may be that of a real slave.
  if (spec_.lines[request.line].kind == LineKind::serial_port) return;
  if (++nobody_[{request.line, std::string(without_port(request.master)), request.unit_id}] != kAsksNobody)
    return;
  std::string known;
  for (const auto& slave : spec_.slaves_on(request.line))
    known += (known.empty() ? "" : ", ") + std::to_string(slave.id) + " (" + std::string(slave.name) + ")";
  once(request.at, spec_.lines[request.line].name, request.master,
       "nobody " + std::to_string(request.unit_id),
       std::string(request.master) + " keeps asking unit id " + std::to_string(request.unit_id) +
           ", which nobody on this line has; here are " + known);
}

void Hints::look_beside(const RequestSeen& request, const unit::UnitSpec& unit, modbus::Table table,
                        modbus::AddressRange range) {
  const std::string who(request.master);
  const std::string asked = registers::both_ways(range.first, table);
  const int first = range.first;
  const bool below = covers(unit, table, first - 1, range.count);
  const bool above = covers(unit, table, first + 1, range.count);
  constexpr int kReference = 40001;  // holding registers, as five-digit reference numbers count them
  if (below || above) {
    once(request.at, unit.name, who, "beside",
         who + " asks for " + asked + ", where nothing is; one " + (below ? "lower" : "higher") + ", at " +
             registers::both_ways(static_cast<std::uint16_t>(below ? first - 1 : first + 1), table) +
             ", all of it is there. Addresses in a frame count from 0, numbers in a manual often from 1");
  } else if (covers(unit, table, first - kReference, range.count)) {
    once(request.at, unit.name, who, "reference",
         who + " asks for address " + std::to_string(first) +
             ": that looks like a reference number; the address in the frame is " +
             registers::both_ways(static_cast<std::uint16_t>(first - kReference), table));
  } else if (!modbus::carries_bits(table)) {
    const auto other = table == modbus::Table::holding_registers ? modbus::Table::input_registers
                                                                 : modbus::Table::holding_registers;
    if (!covers(unit, other, first, range.count)) return;
    once(request.at, unit.name, who, "other table",
         who + " asks for " + std::string(name_of(table)) + " from " + asked + ", where nothing is; " +
             std::string(name_of(other)) + " are there at that address");
  }
}

bool Hints::look_at_halves(const RequestSeen& request, const unit::UnitSpec& unit, modbus::Table table,
                           modbus::AddressRange range) {
  bool found = false;
  const int end = range.first + range.count;
  for (const int edge : {int{range.first}, end - 1}) {
    const Row* row = row_at(unit, table, edge);
    if (row == nullptr || width(*row) == 1 || !carries_point(*row)) continue;
    if (row->address >= range.first && row->address + width(*row) <= end) continue;
    found = true;
    once(request.at, unit.name, request.master, "half",
         std::string(request.master) + " reads " + (width(*row) == 2 ? "one register" : "a part") + " of " +
             word_of(*row) + ", which takes " + counted_registers(*row) + " from " +
             registers::both_ways(row->address, table) + " on");
  }
  return found;
}

void Hints::look_at_order(const RequestSeen& request, const unit::UnitSpec& unit, std::uint16_t first,
                          modbus::ByteView values) {
  const std::size_t count = values.size() / 2;
  std::array<std::uint16_t, 4> room{};  // the widest number
  for (std::size_t i = 0; i < count; ++i) {
    const Row* row = row_at(unit, modbus::Table::holding_registers, static_cast<int>(first + i));
    if (row == nullptr || row->address != first + i || !is_number(*row)) continue;
    const auto used = static_cast<std::size_t>(width(*row));
    if (i + used > count) continue;
    const std::span words = std::span(room).first(used);
    for (std::size_t w = 0; w < used; ++w)
      words[w] = static_cast<std::uint16_t>(unsigned{values[2 * (i + w)]} << 8U | values[2 * (i + w) + 1]);
    if (plausible(*row, with_order(*row, words, false, false)) || !limits_of(*row)) continue;
    if (tell_order(request, unit, *row, words)) return;
  }
}

bool Hints::tell_order(const RequestSeen& request, const unit::UnitSpec& unit, const Row& row,
                       std::span<const std::uint16_t> words) {
  const std::string who(request.master);
  const double value = with_order(row, words, false, false);
  const std::string wrote = who + " wrote " + word_of(row) + " = " + shown(row, value) + ", out of range; ";
  // A factor explains a round number better than an order of bytes does.
  const double counts = std::round(value / row.layout.scale);
  for (const int factor : {10, 100}) {
    if (std::fmod(counts, factor) != 0.0 || !plausible(row, value / factor)) continue;
    once(request.at, unit.name, who, "too large " + word_of(row),
         wrote + "a " + (factor == 10 ? "tenth" : "hundredth") + " of it, " + shown(row, value / factor) +
             ", would fit: one count of this register is " + shown(row, row.layout.scale));
    return true;
  }
  const bool swap_words = words.size() > 1 && plausible(row, with_order(row, words, true, false));
  const bool swap_bytes = plausible(row, with_order(row, words, false, true));
  if (!swap_words && !swap_bytes) return false;
  once(request.at, unit.name, who, "order " + word_of(row),
       wrote + "with the " +
           (swap_words ? counted_registers(row) + " registers" : "two bytes of each register") +
           " the other way round it would be " + shown(row, with_order(row, words, swap_words, !swap_words)) +
           ": " + (swap_words ? "word" : "byte") + " order?");
  return true;
}

void Hints::write(const unit::WriteSeen& write) {
  if (write.point != registers::Point::setpoint || !write.accepted || write.asked <= 0.0) return;
  const auto unit = setpoints_.find(write.unit);
  if (unit == setpoints_.end()) return;
  const Row* row = unit->second.row;
  auto& of_masters = unit->second.of;
  const auto master = without_port(write.master);
  auto known = of_masters.find(master);
  if (known == of_masters.end()) known = of_masters.try_emplace(std::string(master)).first;
  auto& seen = known->second;
  if (seen.size() >= kSmallSetpoints) return;  // judged
  seen.insert(write.asked);
  if (seen.size() < kSmallSetpoints) return;
  // Whole percent sent to a register that counts tenths or hundredths arrive as 0 to 100 counts.
  const double counts = *seen.rbegin() / row->layout.scale;
  const double full = 1.0 / row->layout.scale;
  if (counts < 10.0 || counts > 100.5 || full < 999.5) return;
  const std::string who(write.master);
  once(write.at, std::string(write.unit), who, "too small",
       "the first " + std::to_string(kSmallSetpoints) + " setpoints that " + who + " wrote lie between " +
           shown(*row, *seen.begin()) + " and " + shown(*row, *seen.rbegin()) +
           "; if it counts in whole percent they arrive too small, for " + format_number(std::round(full)) +
           " is 100 % here");
}

}  // namespace emberline::bench
