#include "sim/io/files/register_row.hpp"

#include <algorithm>
#include <cmath>
#include <map>
#include <string>
#include <string_view>
#include <vector>

#include "sim/io/files/fields.hpp"
#include "sim/io/files/values.hpp"
#include "sim/io/files/words.hpp"

namespace emberline::io {

using registers::Access;
using registers::Row;
using registers::Type;

namespace {

constexpr std::string_view kRowExample = "{ at: 0x0030, point: setpoint, as: u16, scale: 0.1 % }";
constexpr int kLastBit = 15;
constexpr int kLargestNumber = 65535;

bool of_bits(modbus::Table table) {
  return table == modbus::Table::coils || table == modbus::Table::discrete_inputs;
}

std::vector<std::string> point_names() {
  std::vector<std::string> names;
  for (const auto& info : registers::all_points()) names.emplace_back(info.name);
  return names;
}

std::vector<std::string> names_of(std::span<const registers::Word> words) {
  std::vector<std::string> names;
  for (const auto& word : words) names.emplace_back(word.first);
  return names;
}

const registers::Word* find_word(std::span<const registers::Word> words, std::string_view name) {
  const auto found =
      std::find_if(words.begin(), words.end(), [&](const auto& word) { return word.first == name; });
  return found == words.end() ? nullptr : &*found;
}

bool read_point(const Node* node, Row& row, Problems& problems) {
  std::string name;
  if (!read_text(node, name, problems)) return false;
  if (const auto point = registers::find_point(name)) {
    row.point = *point;
    return true;
  }
  complain(problems, node->place, "point: " + unknown("point", name, point_names()));
  return false;
}

void read_address(const Node* node, const RowDefaults& defaults, Row& row, Problems& problems) {
  std::string text;
  if (!read_text(node, text, problems)) return;
  const auto address = registers::parse_address(text, defaults.numbering, row.table);
  if (address) {
    row.address = *address;
  } else {
    complain(problems, node->place, "at: " + address.error());
  }
}

/// One end of a range; the lower one may leave its unit to the upper: "0..100 %".
bool read_end(const Node& node, std::string text, const std::string& other, Dimension dimension, double& into,
              Problems& problems) {
  const auto blank = other.find(' ');
  const auto letters = text.find_first_not_of("+-.0123456789eE ");
  if (letters == std::string::npos && blank != std::string::npos) text += other.substr(blank);
  const auto value = parse_quantity(text, dimension);
  if (value) {
    into = *value;
  } else {
    complain(problems, node.place, "range: " + value.error());
  }
  return value.has_value();
}

void read_range(const Node* node, Dimension dimension, Row& row, Problems& problems) {
  std::string text;
  if (!read_text(node, text, problems)) return;
  const auto dots = text.find("..");
  if (dots == std::string::npos || dots == 0 || dots + 2 >= text.size()) {
    complain_kind(*node, "a range such as '0..100 %'", problems);
    return;
  }
  const auto upper = text.substr(dots + 2);
  std::pair<double, double> range;
  if (!read_end(*node, upper, upper, dimension, range.second, problems)) return;
  if (!read_end(*node, text.substr(0, dots), upper, dimension, range.first, problems)) return;
  if (range.first > range.second) {
    complain(problems, node->place, "range: the lower end comes first, found '" + text + "'");
    return;
  }
  row.range = range;
}

/// `values: { running: 10 }` and `flags: { comms-loss: 4 }`: our number -> number carried.
void read_renumbering(const Node* node, std::span<const registers::Word> words, int highest,
                      std::string_view example, std::map<int, int>& into, Problems& problems) {
  if (node == nullptr || node->kind == Node::Kind::refused) return;
  if (words.empty()) {
    complain(problems, node->header, node->label + ": this point has no words to renumber");
    return;
  }
  if (node->kind != Node::Kind::mapping) return complain_kind(*node, example, problems);
  for (const auto& entry : node->entries) {
    const auto* word = find_word(words, entry.label);
    if (word == nullptr) {
      complain(problems, entry.header, node->label + ": " + unknown("word", entry.label, names_of(words)));
      continue;
    }
    int carried = 0;
    if (read_whole(&entry, {0, highest}, carried, problems)) into[word->second] = carried;
  }
}

void read_flag(const Node* node, std::span<const registers::Word> words, Row& row, Problems& problems) {
  if (node == nullptr) return;
  if (words.empty()) {
    complain(problems, node->header, "flag: only warnings and trips have flags");
    return;
  }
  if (const auto index = read_choice(node, names_of(words), {}, problems)) row.flag = words[*index].second;
}

void read_scale(Fields& fields, const registers::PointInfo& info, Row& row, Problems& problems) {
  if (row.layout.type == Type::bit) {
    row.layout.scale = 1.0;
    return fields.refuse("scale", "a bit has no scale");
  }
  row.layout.scale = natural_factor(info.dimension);
  const auto* node = fields.optional("scale");
  // A switch is carried as a number: its scale, if anybody writes one, is a number too.
  const auto dimension = info.dimension == Dimension::logical ? Dimension::number : info.dimension;
  read_quantity(node, dimension, Bound::positive, row.layout.scale, problems);
}

void read_type_of_row(Fields& fields, Row& row, Problems& problems) {
  row.layout.type = of_bits(row.table) ? Type::bit : Type::u16;
  const auto* node = fields.optional("as");
  read_type(node, true, row.layout.type, problems);
}

/// Keys that only single bits have, and those bits never have.
void read_bit_keys(Fields& fields, const registers::PointInfo& info, Row& row, Problems& problems) {
  const bool is_bit = row.layout.type == Type::bit;
  if (is_bit && !of_bits(row.table)) {
    read_whole(fields.optional("bit"), {0, kLastBit}, row.bit_position, problems);
  } else {
    fields.refuse("bit", is_bit ? "a coil or discrete input is one bit by itself"
                                : "only a row that is carried 'as: bit' has a bit position");
  }
  if (is_bit) {
    read_flag(fields.optional("flag"), info.flags, row, problems);
    fields.refuse("values", "a single bit carries no numbers");
    fields.refuse("flags", "a single bit carries one flag: write 'flag: NAME'");
  } else {
    fields.refuse("flag",
                  "only a row that is carried 'as: bit' picks one flag; 'flags:' moves bits of a word");
    read_renumbering(fields.optional("values"), info.values, kLargestNumber,
                     "numbers such as { running: 10 }", row.values, problems);
    read_renumbering(fields.optional("flags"), info.flags, kLastBit, "bits such as { comms-loss: 4 }",
                     row.flags, problems);
  }
}

void read_rights(Fields& fields, const registers::PointInfo& info, const RowDefaults& defaults, Row& row,
                 Problems& problems) {
  const bool writable_table =
      row.table == modbus::Table::coils || row.table == modbus::Table::holding_registers;
  // The table's default cannot give a point rights that it does not have; a row that asks for them is told.
  if (info.writable && writable_table) row.access = defaults.access;
  read_access(fields.optional("access"), row.access, problems);
  row.out_of_range = defaults.out_of_range;
  read_out_of_range(fields.optional("out_of_range"), row.out_of_range, problems);
  read_switch(fields.optional("kept"), row.kept, problems);
}

}  // namespace

void read_word_order(const Node* node, registers::WordOrder& into, Problems& problems) {
  static constexpr Choice<registers::WordOrder> kChoices[] = {
      {"high-first", registers::WordOrder::high_first}, {"low-first", registers::WordOrder::low_first}};
  read_word(node, kChoices, into, problems);
}

void read_byte_order(const Node* node, registers::ByteOrder& into, Problems& problems) {
  static constexpr Choice<registers::ByteOrder> kChoices[] = {
      {"high-first", registers::ByteOrder::high_first}, {"low-first", registers::ByteOrder::low_first}};
  read_word(node, kChoices, into, problems);
}

void read_broken(const Node* node, Dimension dimension, registers::Layout& layout, Problems& problems) {
  std::string text;
  if (node == nullptr) return;
  if (layout.type == Type::bit)
    return complain(problems, node->header, "broken: a bit has no number that says that there is no value");
  if (!read_text(node, text, problems)) return;
  double count = 0.0;
  if (const auto plain = parse_quantity(text, Dimension::number)) {
    count = *plain;
  } else if (const auto value = parse_quantity(text, dimension); value && dimension != Dimension::number) {
    count = std::round(*value / layout.scale);
  } else {
    return complain_kind(*node, "the number that is carried, such as 32767, or a value with its unit",
                         problems);
  }
  const bool fits = count >= registers::lowest(layout) && count <= registers::highest(layout);
  if (!fits || (layout.type != Type::f32 && count != std::round(count)))
    return complain_kind(*node, "a number that " + std::string(to_word(layout.type)) + " can carry",
                         problems);
  layout.broken = count;
}

void read_out_of_range(const Node* node, registers::OutOfRange& into, Problems& problems) {
  using registers::OutOfRange;
  static constexpr Choice<OutOfRange> kChoices[] = {{"exception-03", OutOfRange::exception_03},
                                                    {"exception-04", OutOfRange::exception_04},
                                                    {"clamp", OutOfRange::clamp},
                                                    {"ignore", OutOfRange::ignore}};
  read_word(node, kChoices, into, problems);
}

void read_access(const Node* node, Access& into, Problems& problems) {
  static constexpr Choice<Access> kChoices[] = {{"read-only", Access::read_only},
                                                {"read-write", Access::read_write},
                                                {"write-only", Access::write_only}};
  read_word(node, kChoices, into, problems);
}

bool read_type(const Node* node, bool bit_allowed, Type& into, Problems& problems) {
  static constexpr Choice<Type> kWithBit[] = {{"u16", Type::u16}, {"s16", Type::s16}, {"u32", Type::u32},
                                              {"s32", Type::s32}, {"f32", Type::f32}, {"bit", Type::bit}};
  static constexpr Choice<Type> kRegisters[] = {
      {"u16", Type::u16}, {"s16", Type::s16}, {"u32", Type::u32}, {"s32", Type::s32}, {"f32", Type::f32}};
  if (bit_allowed) return read_word(node, kWithBit, into, problems, {"u64", "text", "bits"});
  return read_word(node, kRegisters, into, problems, {"u64", "text", "bits"});
}

std::optional<Row> read_row(const Node& node, modbus::Table table, const RowDefaults& defaults,
                            Problems& problems) {
  const auto problems_before = problems.size();
  Fields fields(node, kRowExample, problems);
  Row row;
  row.table = table;
  row.place = node.place;
  row.layout.word_order = defaults.word_order;
  row.layout.byte_order = defaults.byte_order;
  read_address(fields.required("at"), defaults, row, problems);
  const bool point_known = read_point(fields.required("point"), row, problems);
  read_type_of_row(fields, row, problems);
  if (!point_known) {  // every other key is read in the light of the point
    fields.leave();
    return std::nullopt;
  }
  const auto& info = registers::point_info(row.point);
  read_scale(fields, info, row, problems);
  read_bit_keys(fields, info, row, problems);
  read_rights(fields, info, defaults, row, problems);
  const auto range_dimension = info.dimension == Dimension::logical ? Dimension::number : info.dimension;
  read_range(fields.optional("range"), range_dimension, row, problems);
  read_word_order(fields.optional("word_order"), row.layout.word_order, problems);
  read_byte_order(fields.optional("byte_order"), row.layout.byte_order, problems);
  read_broken(fields.optional("broken"), info.dimension, row.layout, problems);
  static constexpr Choice<bool> kSplit[] = {{"refuse", true}, {"allow", false}};
  read_word(fields.optional("split"), kSplit, row.split_refused, problems);
  fields.done();
  if (problems.size() != problems_before) return std::nullopt;
  return row;
}

}  // namespace emberline::io
