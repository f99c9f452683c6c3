#include "sim/io/tables/table_yaml.hpp"

#include <algorithm>
#include <array>
#include <charconv>
#include <cmath>
#include <limits>
#include <map>
#include <utility>

#include "sim/base/plain_text.hpp"
#include "sim/base/quantity.hpp"
#include "sim/io/tables/table_words.hpp"
#include "sim/registers/table_check.hpp"

namespace emberline::io {
namespace {

using registers::ByteOrder;
using registers::Coding;
using registers::OutOfRange;
using registers::Row;
using registers::TableParts;
using registers::Type;
using registers::WordOrder;

/// A text between quotes, in which nothing means anything else.
std::string in_quotes(std::string_view text) {
  std::string out = "'";
  for (const char c : one_line(std::string(text))) {
    if (c == '\'') out += '\'';
    out += c;
  }
  return out + "'";
}

std::string rounded(double value, int digits) {
  std::array<char, 64> buffer{};
  const auto end =
      std::to_chars(buffer.data(), buffer.data() + buffer.size(), value, std::chars_format::general, digits)
          .ptr;
  return {buffer.data(), end};
}

Dimension dimension_in_files(const registers::PointInfo& info) {
  return info.dimension == Dimension::logical ? Dimension::number : info.dimension;
}

std::string word_of_number(std::span<const registers::Word> words, int number) {
  for (const auto& [word, ours] : words)
    if (ours == number) return std::string(word);
  return std::to_string(number);
}

/// "{ running: 10, tripped: 7 }"
std::string numbered(const std::map<int, int>& numbers, std::span<const registers::Word> words) {
  std::string text;
  for (const auto& [ours, carried] : numbers)
    text += (text.empty() ? "{ " : ", ") + word_of_number(words, ours) + ": " + std::to_string(carried);
  return text + " }";
}

/// What most rows have; the first of them where several are as many.
template <class T, class Get>
T most_common(const std::vector<Row>& rows, T usual, Get get) {
  std::map<T, std::size_t> counts;
  for (const auto& row : rows)
    if (carries_point(row)) ++counts[get(row)];
  for (const auto& [value, count] : counts)
    if (count > counts[usual]) usual = value;
  return usual;
}

/// Says what is not said above for all rows.
class TableWriter {
 public:
  TableWriter(const TableParts& parts, const TableComments& comments) : parts_(parts), comments_(comments) {
    words_ =
        most_common(parts.rows, WordOrder::high_first, [](const Row& row) { return row.layout.word_order; });
    bytes_ =
        most_common(parts.rows, ByteOrder::high_first, [](const Row& row) { return row.layout.byte_order; });
    out_of_range_ =
        most_common(parts.rows, OutOfRange::exception_03, [](const Row& row) { return row.out_of_range; });
  }

  std::string text() {
    if (!comments_.first_line.empty()) text_ += comments_.first_line + "\n";
    text_ += "register_table: " + in_quotes(parts_.title) + "\nformat: 1\n";
    if (words_ != WordOrder::high_first) text_ += "word_order: " + std::string(word_of(words_)) + "\n";
    if (bytes_ != ByteOrder::high_first) text_ += "byte_order: " + std::string(word_of(bytes_)) + "\n";
    if (out_of_range_ != OutOfRange::exception_03)
      text_ += "out_of_range: " + std::string(word_of(out_of_range_)) + "\n";
    if (parts_.gaps == registers::Gaps::zero) text_ += "gaps: zero\n";
    named_words();
    using modbus::Table;
    for (const auto table :
         {Table::coils, Table::discrete_inputs, Table::holding_registers, Table::input_registers})
      rows_of(table);
    if (parts_.input_same_as_holding) text_ += "input: same-as-holding\n";
    if (!comments_.at_end.empty()) text_ += "\n";
    for (const auto& line : comments_.at_end) text_ += "# " + line + "\n";
    return std::move(text_);
  }

 private:
  /// `words:`, the enumerations that rows refer to by name.
  void named_words() {
    for (const auto& row : parts_.rows) {
      const auto& numbers = row.values.empty() ? row.flags : row.values;
      if (row.words.empty() || numbers.empty()) continue;
      const auto& info = registers::point_info(row.point);
      const auto text = numbered(numbers, row.values.empty() ? info.flags : info.values);
      if (!named_.emplace(row.words, text).second) continue;
      if (named_.size() == 1) text_ += "words:\n";
      text_ += "  " + in_quotes(row.words) + ": " + text + "\n";
    }
  }

  void rows_of(modbus::Table table) {
    bool any = false;
    for (std::size_t i = 0; i < parts_.rows.size(); ++i) {
      const auto& row = parts_.rows[i];
      if (row.table != table) continue;
      if (!any) text_ += std::string(word_of(table)) + ":\n";
      any = true;
      text_ += "  - { " + keys(row) + " }";
      if (i < comments_.of_rows.size() && !comments_.of_rows[i].empty())
        text_ += "   # " + comments_.of_rows[i];
      text_ += "\n";
    }
  }

  std::string keys(const Row& row) {
    line_ = "at: " + registers::hexadecimal(row.address);
    const auto& layout = row.layout;
    const bool of_bits = modbus::carries_bits(row.table);
    what(row);
    if (!of_bits && (layout.type != Type::u16 || carries_point(row)))
      add("as", std::string(to_word(layout.type)));
    if (layout.type == Type::text) add("registers", std::to_string(layout.text_registers));
    if (layout.coding != Coding::binary) add("coding", std::string(to_word(layout.coding)));
    if (layout.type == Type::bits) add("mask", registers::hexadecimal(layout.mask));
    if (layout.type == Type::bit && !of_bits && row.bit_position != 0)
      add("bit", std::to_string(row.bit_position));
    if (carries_point(row)) point_keys(row);
    if (row.access != registers::Access::read_only) add("access", std::string(word_of(row.access)));
    if (row.write_mask) add("write_mask", registers::hexadecimal(*row.write_mask));
    if (carries_point(row) && row.out_of_range != out_of_range_)
      add("out_of_range", std::string(word_of(row.out_of_range)));
    if (layout.type != Type::text && layout.word_order != words_)
      add("word_order", std::string(word_of(layout.word_order)));
    if (layout.byte_order != bytes_) add("byte_order", std::string(word_of(layout.byte_order)));
    if (row.kept) add("kept", "true");
    if (layout.broken) add("broken", format_number(*layout.broken));
    if (row.split_refused) add("split", "refuse");
    return line_;
  }

  void add(std::string_view key, const std::string& value) {
    line_ += ", " + std::string(key) + ": " + value;
  }

  void what(const Row& row) {
    if (row.fixed)
      add("fixed", format_number(*row.fixed));
    else if (!carries_point(row) && !row.text)
      add("fixed", in_quotes(row.fixed_text));
    else
      add("point", std::string(name_of(row)));
  }

  void point_keys(const Row& row) {
    const auto& info = registers::point_info(row.point);
    const auto dimension = dimension_in_files(info);
    if (row.layout.type != Type::bit && (row.layout.scale != 1.0 || !natural_unit(dimension).empty()))
      add("scale", exact_quantity(row.layout.scale, dimension));
    if (row.range && !is_widest(row, info)) add("range", range(*row.range, dimension));
    if (row.flag) add("flag", word_of_number(info.flags, *row.flag));
    if (!row.values.empty()) add("values", named_or_listed(row, numbered(row.values, info.values)));
    if (!row.flags.empty()) add("flags", named_or_listed(row, numbered(row.flags, info.flags)));
  }

  std::string named_or_listed(const Row& row, const std::string& listed) const {
    const auto named = named_.find(row.words);
    return !row.words.empty() && named != named_.end() && named->second == listed ? in_quotes(row.words)
                                                                                  : listed;
  }

  /// The range that a writable row gets when it says nothing, whose ends need not be decimal numbers in a
  /// unit.
  static bool is_widest(const Row& row, const registers::PointInfo& info) {
    if (row.access == registers::Access::read_only || !info.limits || !info.values.empty()) return false;
    const auto [low, high] = registers::carried_range(row.layout);
    return row.range == std::pair{std::max(low, info.limits->first), std::min(high, info.limits->second)};
  }

  static std::string range(const std::pair<double, double>& ends, Dimension dimension) {
    auto low = exact_quantity(ends.first, dimension);
    const auto high = exact_quantity(ends.second, dimension);
    const auto blank = low.find(' ');
    if (blank != std::string::npos && high.ends_with(low.substr(blank))) low.resize(blank);
    return low + ".." + high;
  }

  const TableParts& parts_;
  const TableComments& comments_;
  WordOrder words_{};
  ByteOrder bytes_{};
  OutOfRange out_of_range_{};
  std::map<std::string, std::string> named_;
  std::string text_;
  std::string line_;
};

bool same_but_table(const Row& holding, const Row& input) {
  const auto key = [](const Row& row) {
    return std::tie(row.address, row.point, row.text, row.fixed, row.fixed_text, row.layout.type,
                    row.layout.scale, row.layout.word_order, row.layout.byte_order, row.layout.coding,
                    row.layout.text_registers, row.layout.mask, row.layout.broken, row.bit_position, row.flag,
                    row.values, row.flags, row.words, row.range, row.out_of_range, row.kept,
                    row.split_refused);
  };
  return key(holding) == key(input) && input.access == registers::Access::read_only && !input.write_mask;
}

}  // namespace

std::string exact_quantity(double value, Dimension dimension) {
  const std::string unit(natural_unit(dimension));
  if (unit.empty()) return format_number(value);
  const double natural = value == 0.0 ? 0.0 : value / natural_factor(dimension);
  const auto text_of = [&unit](const std::string& number) { return number + " " + unit; };
  const auto reads = [&](const std::string& text) {
    const auto read = parse_quantity(text, dimension);
    return read && *read == value;
  };
  // The quotient need not be the number that was multiplied; mostly that was a short one.
  for (const int digits : {6, 9, 12, 15})
    if (auto text = text_of(rounded(natural, digits)); reads(text)) return text;
  for (const double toward :
       {std::numeric_limits<double>::infinity(), -std::numeric_limits<double>::infinity()}) {
    double near = natural;
    for (int step = 0; step < 4; ++step) {
      if (auto text = text_of(format_number(near)); reads(text)) return text;
      near = std::nextafter(near, toward);
    }
  }
  if (dimension == Dimension::energy) return format_number(value) + " J";
  return text_of(format_number(natural));
}

std::string table_yaml(const TableParts& parts, const TableComments& comments) {
  return TableWriter(parts, comments).text();
}

std::string table_yaml(const registers::RegisterTable& table) {
  TableParts parts{table.title(), table.gaps(), false, table.rows()};
  std::vector<const Row*> mirrored;
  std::vector<const Row*> input;
  for (const auto& row : parts.rows) {
    if (row.table == modbus::Table::holding_registers && row.access != registers::Access::write_only)
      mirrored.push_back(&row);
    if (row.table == modbus::Table::input_registers) input.push_back(&row);
  }
  parts.input_same_as_holding =
      !input.empty() && std::equal(mirrored.begin(), mirrored.end(), input.begin(), input.end(),
                                   [](const Row* a, const Row* b) { return same_but_table(*a, *b); });
  if (parts.input_same_as_holding)
    std::erase_if(parts.rows, [](const Row& row) { return row.table == modbus::Table::input_registers; });
  return table_yaml(parts);
}

}  // namespace emberline::io
