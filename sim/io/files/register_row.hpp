#pragma once

#include <map>
#include <optional>
#include <string>
#include <utility>
#include <vector>

#include "sim/io/files/node.hpp"
#include "sim/registers/register_table.hpp"

namespace emberline::io {

/// Enumerations that a table gives a name: each a list of words of points with the number, or bit, carried.
using NamedWords = std::map<std::string, std::vector<std::pair<std::string, int>>, std::less<>>;

/// What rows take from their table when they say nothing themselves.
struct RowDefaults {
  registers::Numbering numbering = registers::Numbering::zero_based;
  registers::WordOrder word_order = registers::WordOrder::high_first;
  registers::ByteOrder byte_order = registers::ByteOrder::high_first;
  registers::OutOfRange out_of_range = registers::OutOfRange::exception_03;
  registers::Access access = registers::Access::read_only;
  NamedWords words{};
};

/// word_order, byte_order and out_of_range, which tables and rows write the same way.
void read_word_order(const Node* node, registers::WordOrder& into, Problems& problems);
void read_byte_order(const Node* node, registers::ByteOrder& into, Problems& problems);
void read_out_of_range(const Node* node, registers::OutOfRange& into, Problems& problems);
void read_access(const Node* node, registers::Access& into, Problems& problems);
/// `broken:`, what a register reads where there is no value: the number carried, or a value with its unit.
/// Needs type and scale.
void read_broken(const Node* node, Dimension dimension, registers::Layout& layout, Problems& problems);
/// `as:` of a number in registers of its own; with `any` also of single bits and text.
bool read_type(const Node* node, bool any, registers::Type& into, Problems& problems);
/// `words:` of a table.
void read_named_words(const Node* node, NamedWords& into, Problems& problems);

/// Reads one row of a register table; nothing, after complaints, if it cannot be used.
[[nodiscard]] std::optional<registers::Row> read_row(const Node& node, modbus::Table table,
                                                     const RowDefaults& defaults, Problems& problems);

}  // namespace emberline::io
