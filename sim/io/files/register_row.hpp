#pragma once

#include <optional>

#include "sim/io/files/node.hpp"
#include "sim/registers/register_table.hpp"

namespace emberline::io {

/// What rows take from their table when they say nothing themselves.
struct RowDefaults {
  registers::Numbering numbering = registers::Numbering::zero_based;
  registers::WordOrder word_order = registers::WordOrder::high_first;
  registers::ByteOrder byte_order = registers::ByteOrder::high_first;
  registers::OutOfRange out_of_range = registers::OutOfRange::exception_03;
  registers::Access access = registers::Access::read_only;
};

/// word_order, byte_order and out_of_range, which tables and rows write the same way.
void read_word_order(const Node* node, registers::WordOrder& into, Problems& problems);
void read_byte_order(const Node* node, registers::ByteOrder& into, Problems& problems);
void read_out_of_range(const Node* node, registers::OutOfRange& into, Problems& problems);
void read_access(const Node* node, registers::Access& into, Problems& problems);
/// `broken:`, what a register reads where there is no value: the number carried, or a value with its unit.
/// Needs type and scale.
void read_broken(const Node* node, Dimension dimension, registers::Layout& layout, Problems& problems);
/// `as:` of registers; bit only where `bit_allowed`.
bool read_type(const Node* node, bool bit_allowed, registers::Type& into, Problems& problems);

/// Reads one row of a register table; nothing, after complaints, if it cannot be used.
[[nodiscard]] std::optional<registers::Row> read_row(const Node& node, modbus::Table table,
                                                     const RowDefaults& defaults, Problems& problems);

}  // namespace emberline::io
