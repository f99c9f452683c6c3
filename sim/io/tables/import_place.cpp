#include "sim/io/tables/import_place.hpp"

#include <bit>
#include <utility>

#include "sim/io/tables/import_cells.hpp"
#include "sim/io/tables/import_words.hpp"

namespace emberline::io {
namespace {

using registers::Coding;
using registers::Type;

constexpr std::string_view kReferenceDigits = "0134";

modbus::Table table_of_digit(char digit) {
  switch (digit) {
    case '0':
      return modbus::Table::coils;
    case '1':
      return modbus::Table::discrete_inputs;
    case '3':
      return modbus::Table::input_registers;
    default:
      return modbus::Table::holding_registers;
  }
}

/// A bit named in front of a name: "Bit 3: Comms loss".
std::optional<Labelled> bit_in_name(const std::string& name) {
  constexpr std::size_t kLongestName = 200;
  std::vector<std::string> unread;
  if (name.size() > kLongestName || name.find_first_of(";|\n") != std::string::npos) return std::nullopt;
  auto entries = labelled_cell(name, unread);
  hexadecimal_to_bits(entries);  // "0x0008: Comms loss" names no number of an enumeration
  return entries.size() == 1 && entries.front().is_bit && entries.front().number <= 15
             ? std::optional(entries.front())
             : std::nullopt;
}

class PlaceReader {
 public:
  PlaceReader(const ImportSetting& setting, const std::vector<std::string>& cells, const RowPlace* above)
      : setting_(setting), cells_(cells), above_(above) {
    if (above_ != nullptr) place_ = *above_;
    place_.remarks.clear();
  }

  Result<RowPlace, RowFault> read() {
    if (above_ == nullptr) {
      table();
      address();
    }
    orders();
    if (!fault_) type();
    if (!fault_) doubtful_order();
    if (!fault_) bits();
    if (!fault_) size();
    if (!fault_) rights();
    if (fault_) return Failure{std::move(*fault_)};
    return place_;
  }

 private:
  std::string cell(TableColumn column) const { return setting_.cell(cells_, column); }
  void say(TableColumn column, std::string why) {
    if (!fault_) fault_ = RowFault{column, std::move(why)};
  }
  registers::Layout& layout() { return place_.row.layout; }

  void table() {
    place_.row.table = setting_.mapping.table;
    const auto text = cell(TableColumn::table);
    if (text.empty()) return;
    const auto word = table_word(text, setting_.mapping);
    if (!word) return say(TableColumn::table, why_no_table(text));
    table_stated_ = true;
    place_.row.table = word->table;
    if (word->access) {
      place_.row.access = *word->access;
      place_.access_stated = true;
    }
  }

  void address() {
    const auto text = cell(TableColumn::address);
    if (text.empty()) return say(TableColumn::address, "no address");
    const auto habit = setting_.mapping.bits;
    auto written = address_cell(text, setting_.columns.addresses,
                                habit == BitHabit::any || habit == BitHabit::in_address);
    if (!written) return say(TableColumn::address, written.error());
    auto digits = written->text;
    if (setting_.numbering == registers::Numbering::reference) {
      if (!table_stated_ && digits.size() >= 5 && kReferenceDigits.find(digits[0]) != std::string_view::npos)
        place_.row.table = table_of_digit(digits[0]);
      // Spreadsheets take the leading zeros of coils away.
      if (place_.row.table == modbus::Table::coils && digits.size() < 5)
        digits.insert(0, 5 - digits.size(), '0');
    }
    const auto address = registers::parse_address(digits, setting_.numbering, place_.row.table);
    if (!address) return say(TableColumn::address, address.error());
    place_.row.address = *address;
    registers_ = written->registers;
    doubtful_bit_ = written->bit == 0 && habit == BitHabit::any && !setting_.bits_behind_addresses;
    if (written->bit) mask_ = static_cast<std::uint16_t>(1U << static_cast<unsigned>(*written->bit));
  }

  void orders() {
    if (above_ == nullptr) {
      layout().word_order = setting_.mapping.word_order;
      layout().byte_order = setting_.mapping.byte_order;
    }
    for (const auto column : {TableColumn::word_order, TableColumn::byte_order}) {
      const auto text = cell(column);
      if (text.empty()) continue;
      const auto order = order_word(text);
      if (!order)
        return say(column, "expected an order such as high-first, LSW first or CDAB, found '" + text + "'");
      const auto says =
          (column == TableColumn::word_order ? "the word order says '" : "the byte order says '") + text +
          "'";
      if (order->words && (column == TableColumn::word_order || order->letters))
        take_order(column, says, *order->words, layout().word_order, words_said_);
      if (order->bytes && (column == TableColumn::byte_order || order->letters))
        take_order(column, says, *order->bytes, layout().byte_order, bytes_said_);
    }
  }

  /// An order that may be said in two places; `said` is which said it.
  template <class Order>
  void take_order(TableColumn column, const std::string& says, Order order, Order& into, std::string& said) {
    if (!said.empty() && order != into)
      return say(column, said + " and " + says + ": expected the same, or one of them");
    into = order;
    said = says;
  }

  /// "Little endian" is said of words, and of words and bytes.
  void doubtful_order() {
    const auto text = cell(TableColumn::word_order);
    const auto word = loose(text);
    if (word != "littleendian" && word != "little" && word != "le") return;
    if (!bytes_said_.empty() || layout().byte_order == registers::ByteOrder::low_first) return;
    place_.remarks.push_back({TableColumn::word_order,
                              "'" + text +
                                  "' is taken as the low word first (CDAB), here and in rows like it; if the "
                                  "bytes are swapped too (DCBA), say byte_order: low-first in the mapping",
                              true});
  }

  void type() {
    const bool of_bits = modbus::carries_bits(place_.row.table);
    layout().type = of_bits ? Type::bit : Type::u16;
    place_.single_bit_stated = of_bits;
    const auto text = cell(TableColumn::type);
    if (text.empty()) {
      any_width_ = above_ == nullptr;
      return;
    }
    const auto word = type_word(text, setting_.mapping);
    if (!word) return say(TableColumn::type, word.error());
    if (of_bits) return;  // whatever they call it, it is a bit
    layout().type = word->type;
    layout().coding = word->coding;
    layout().text_registers = word->text_registers;
    const auto says = "the type says '" + text + "'";
    if (word->word_order)
      take_order(TableColumn::type, says, *word->word_order, layout().word_order, words_said_);
    if (word->byte_order)
      take_order(TableColumn::type, says, *word->byte_order, layout().byte_order, bytes_said_);
    any_width_ = word->any_width;
    place_.single_bit_stated = word->type == Type::bit;
  }

  /// A mask, a bit number, or a bit in front of the name.
  void bits() {
    if (modbus::carries_bits(place_.row.table)) return;
    if (doubtful_bit_ && layout().type != Type::bit && cell(TableColumn::type) != "bits" &&
        cell(TableColumn::bit).empty() && cell(TableColumn::mask).empty())
      return say(TableColumn::address, "'" + cell(TableColumn::address) +
                                           "' may be bit 0, or a number as a spreadsheet writes it: expected "
                                           "an address without '.0', or type bool for the bit");
    const auto habit = setting_.mapping.bits;
    const bool in_column = habit == BitHabit::any || habit == BitHabit::column || above_ != nullptr;
    const auto mask = in_column ? cell(TableColumn::mask) : std::string();
    const auto bit = in_column ? cell(TableColumn::bit) : std::string();
    if (!mask.empty() && !(mask_ = mask_cell(mask, setting_.columns.is_hexadecimal(TableColumn::mask))))
      return say(TableColumn::mask, "expected a mask such as 0x0004, found '" + mask + "'");
    if (mask.empty() && !bit.empty() && !(mask_ = bit_cell(bit)))
      return say(TableColumn::bit, "expected a bit from 0 to 15, or bits such as 4-7, found '" + bit + "'");
    if (!mask_ && above_ != nullptr)
      if (const auto named = bit_in_name(cell(TableColumn::name)))
        mask_ = static_cast<std::uint16_t>(1U << static_cast<unsigned>(named->number));
    if (!mask_) {
      // A truth value that has a register to itself is the number 0 or 1 in it.
      if (layout().type == Type::bit) layout().type = Type::u16;
      if (layout().type == Type::bits) say(TableColumn::mask, "bits without a mask or a bit number");
      return;
    }
    if (registers::register_count(layout()) != 1 || layout().type == Type::text)
      return say(TableColumn::mask,
                 "bits stand in a single register, found type '" + cell(TableColumn::type) + "'");
    const auto first = std::countr_zero(static_cast<unsigned>(*mask_));
    if (layout().type != Type::bits && std::has_single_bit(static_cast<unsigned>(*mask_))) {
      layout().type = Type::bit;
      place_.row.bit_position = first;
      place_.single_bit_stated = true;
      return;
    }
    const unsigned low = static_cast<unsigned>(*mask_) >> static_cast<unsigned>(first);
    if ((low & (low + 1U)) != 0)
      return say(TableColumn::mask, "the bits of a mask have to be next to each other, found '" +
                                        (mask.empty() ? bit : mask) + "'");
    layout().type = Type::bits;
    layout().mask = *mask_;
    place_.single_bit_stated = false;
  }

  /// How many registers there are, where it is said twice the same.
  void size() {
    const auto text = cell(TableColumn::registers);
    if (!text.empty() && above_ == nullptr) {
      const auto number = whole_number_of(text);
      if (!number || *number < 1 || *number > 1000)
        return say(TableColumn::registers, "expected how many registers there are, found '" + text + "'");
      registers_ = static_cast<int>(*number);
    }
    if (layout().type == Type::text) {
      if (registers_) layout().text_registers = *registers_;
      if (layout().text_registers == 0)
        say(TableColumn::registers, "a text has to say how many registers it fills");
      return;
    }
    if (!registers_ || modbus::carries_bits(place_.row.table)) return;
    if (any_width_ && *registers_ == 2)
      layout().type = layout().type == Type::s16 ? Type::s32 : Type::u32;
    else if (any_width_ && *registers_ == 4 && layout().type == Type::u16)
      layout().type = Type::u64;
    if (*registers_ != registers::register_count(layout()))
      say(text.empty() ? TableColumn::address : TableColumn::registers,
          "type " + std::string(to_word(layout().type)) + " takes " +
              std::to_string(registers::register_count(layout())) +
              (registers::register_count(layout()) == 1 ? " register" : " registers") + ", found " +
              std::to_string(*registers_));
  }

  void rights() {
    const auto access = cell(TableColumn::access);
    if (!access.empty() || setting_.mapping.access.contains("")) {
      const auto word = access_word(access, setting_.mapping);
      if (!word)
        return say(TableColumn::access,
                   "expected an access such as R, R/W or read-only, found '" + access + "'");
      place_.row.access = *word;
      place_.access_stated = true;
    }
    if (const auto text = cell(TableColumn::coding); !text.empty()) {
      bool known = false;
      for (const auto coding : {Coding::binary, Coding::sign_magnitude, Coding::bcd})
        if (loose(text) == loose(to_word(coding))) layout().coding = coding, known = true;
      if (!known)
        return say(TableColumn::coding, "expected binary, sign-magnitude or bcd, found '" + text + "'");
    }
    if (const auto text = cell(TableColumn::write_mask); !text.empty()) {
      place_.row.write_mask = mask_cell(text, setting_.columns.is_hexadecimal(TableColumn::write_mask));
      if (!place_.row.write_mask)
        return say(TableColumn::write_mask, "expected a mask such as 0x000F, found '" + text + "'");
    }
    if (const auto text = cell(TableColumn::out_of_range); !text.empty()) {
      const auto word = out_of_range_word(text);
      if (!word)
        return say(TableColumn::out_of_range,
                   "expected exception-03, exception-04, clamp or ignore, found '" + text + "'");
      place_.row.out_of_range = *word;
    }
    if (const auto kept = switch_word(cell(TableColumn::kept)))
      place_.row.kept = *kept;
    else
      return say(TableColumn::kept, "expected yes or no, found '" + cell(TableColumn::kept) + "'");
    split();
  }

  void split() {
    const auto text = cell(TableColumn::split);
    const auto word = loose(text);
    if (!word.empty() && word != "refuse" && word != "allow")
      return say(TableColumn::split, "expected refuse or allow, found '" + text + "'");
    place_.row.split_refused = word == "refuse";
  }

  const ImportSetting& setting_;
  const std::vector<std::string>& cells_;
  const RowPlace* above_;
  RowPlace place_;
  bool table_stated_ = false;
  bool any_width_ = false;
  bool doubtful_bit_ = false;
  std::string words_said_;  ///< where the order of words is said, and how; empty: nowhere in the row
  std::string bytes_said_;
  std::optional<int> registers_;
  std::optional<std::uint16_t> mask_;
  std::optional<RowFault> fault_;
};

}  // namespace

bool bits_behind_addresses(const CsvTable& csv, const TableMapping& mapping, const ColumnPlaces& columns) {
  for (std::size_t i = static_cast<std::size_t>(mapping.skip_rows) + 1; i < csv.rows.size(); ++i) {
    const auto text = columns.cell(csv.rows[i], TableColumn::address);
    if (text.find_first_of(".:") == std::string::npos) continue;
    const auto written = address_cell(text, columns.addresses, true);
    if (written && written->bit.value_or(0) > 0) return true;
  }
  return false;
}

bool is_bit_row(const ImportSetting& setting, const std::vector<std::string>& cells) {
  if (setting.mapping.bits != BitHabit::any && setting.mapping.bits != BitHabit::own_rows) return false;
  if (!setting.cell(cells, TableColumn::address).empty()) return false;
  return !setting.cell(cells, TableColumn::mask).empty() || !setting.cell(cells, TableColumn::bit).empty() ||
         bit_in_name(setting.cell(cells, TableColumn::name)).has_value();
}

std::string name_of_row(const ImportSetting& setting, const std::vector<std::string>& cells) {
  auto name = setting.cell(cells, TableColumn::name);
  if (!is_bit_row(setting, cells)) return name;
  const auto bit = bit_in_name(name);
  return bit ? bit->label : name;
}

Result<RowPlace, RowFault> place_of_row(const ImportSetting& setting, const std::vector<std::string>& cells,
                                        const RowPlace* above) {
  return PlaceReader(setting, cells, above).read();
}

registers::Numbering likely_numbering(const CsvTable& csv, const TableMapping& mapping,
                                      const ColumnPlaces& columns) {
  if (mapping.numbering) return *mapping.numbering;
  bool any = false;
  for (std::size_t i = static_cast<std::size_t>(mapping.skip_rows) + 1; i < csv.rows.size(); ++i) {
    const auto text = columns.cell(csv.rows[i], TableColumn::address);
    if (text.empty()) continue;
    const auto written = address_cell(text, columns.addresses, true);
    if (!written) continue;
    const auto& digits = written->text;
    const bool looks = (digits.size() == 5 || digits.size() == 6) &&
                       kReferenceDigits.find(digits[0]) != std::string_view::npos &&
                       digits.find_first_not_of("0123456789") == std::string::npos;
    if (!looks) return registers::Numbering::zero_based;
    any = any || digits[0] == '3' || digits[0] == '4';
  }
  return any ? registers::Numbering::reference : registers::Numbering::zero_based;
}

}  // namespace emberline::io
