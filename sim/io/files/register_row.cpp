#include "sim/io/files/register_row.hpp"

#include <string>
#include <string_view>
#include <vector>

#include "sim/io/files/fields.hpp"
#include "sim/io/files/register_row_parts.hpp"
#include "sim/io/files/values.hpp"
#include "sim/io/files/words.hpp"

namespace emberline::io {

using registers::Access;
using registers::Row;
using registers::Type;

namespace {

constexpr std::string_view kRowExample = "{ at: 0x0030, point: setpoint, as: u16, scale: 0.1 % }";

std::vector<std::string> point_names() {
  std::vector<std::string> names;
  for (const auto& info : registers::all_points()) names.emplace_back(info.name);
  return names;
}

std::vector<std::string> text_names() {
  std::vector<std::string> names;
  for (const auto text : registers::all_text_points()) names.emplace_back(to_word(text));
  return names;
}

/// What a row says it carries: a point that goes with its type.
bool read_point(const Node* node, bool type_known, Row& row, Problems& problems) {
  std::string name;
  if (!read_text(node, name, problems)) return false;
  const auto fail = [&](const std::string& what) {
    complain(problems, node->place, "point: " + what);
    return false;
  };
  const bool is_text = row.layout.type == Type::text;
  const auto text = registers::find_text_point(name);
  const auto point = registers::find_point(name);
  if (is_text && text) {
    row.text = text;
    return true;
  }
  if (is_text && point)
    return fail("'" + name + "' is no text: with 'as: text' expected one of " + listed(text_names()));
  if (is_text) return fail(unknown("text", name, text_names()));
  if (text && type_known) return fail("'" + name + "' is text: expected 'as: text' beside it");
  if (!point && !text) return fail(unknown("point", name, point_names()));
  if (point) row.point = *point;
  return point.has_value();
}

/// `point:` or `fixed:`. False, after a complaint, when what the row carries is not known.
bool read_content(Fields& fields, bool type_known, Row& row, Problems& problems) {
  if (fields.node().find("fixed") == nullptr) {
    (void)fields.optional("fixed");
    return read_point(fields.required("point"), type_known, row, problems);
  }
  const auto* fixed = fields.optional("fixed");
  fields.refuse("point", "a row with 'fixed' carries no point: expected one of the two");
  if (fixed == nullptr || !type_known) return false;
  const auto before = problems.size();
  read_fixed(*fixed, row, problems);
  return problems.size() == before;
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

/// Keys of rows that carry a point.
void read_point_keys(Fields& fields, const RowDefaults& defaults, Row& row, Problems& problems) {
  const auto& info = registers::point_info(row.point);
  read_scale(fields, info, row, problems);
  read_words(fields, info, defaults, row, problems);
  read_rights(fields, info, defaults, row, problems);
  const auto range_dimension = info.dimension == Dimension::logical ? Dimension::number : info.dimension;
  read_range(fields.optional("range"), range_dimension, row, problems);
  read_broken(fields.optional("broken"), info.dimension, row.layout, problems);
}

/// Text and fixed values stand as they are.
void refuse_point_keys(Fields& fields, Row& row, Problems& problems) {
  read_access(fields.optional("access"), row.access, problems);
  const std::string what = row.layout.type == Type::text ? "text" : "a fixed number";
  for (const auto* key : {"scale", "broken", "values", "flags", "flag"})
    fields.refuse(key, what + " stands as it is");
  for (const auto* key : {"range", "out_of_range", "kept"}) fields.refuse(key, what + " is never written");
}

}  // namespace

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

std::optional<Row> read_row(const Node& node, modbus::Table table, const RowDefaults& defaults,
                            Problems& problems) {
  const auto problems_before = problems.size();
  Fields fields(node, kRowExample, problems);
  Row row;
  row.table = table;
  row.place = node.place;
  read_address(fields.required("at"), defaults, row, problems);
  const bool type_known = read_type_of_row(fields, row, problems);
  // Every other key is read in the light of these.
  if (!read_content(fields, type_known, row, problems) || !type_known) {
    fields.leave();
    return std::nullopt;
  }
  read_place_in_registers(fields, defaults, row, problems);
  carries_point(row) ? read_point_keys(fields, defaults, row, problems)
                     : refuse_point_keys(fields, row, problems);
  fields.done();
  if (problems.size() != problems_before) return std::nullopt;
  return row;
}

}  // namespace emberline::io
