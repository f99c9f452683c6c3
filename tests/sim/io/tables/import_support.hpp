#pragma once

#include <array>
#include <cstdint>
#include <memory>
#include <string>
#include <vector>

#include <doctest/doctest.h>

#include "sim/io/tables/import_table.hpp"
#include "sim/registers/register_table.hpp"

namespace emberline::test {

/// Points that hold what they are given, in the unit the table is measured in: SI.
class HeldPoints final : public registers::PointAccess {
 public:
  double& operator[](registers::Point point) { return values_.at(static_cast<std::size_t>(point)); }
  [[nodiscard]] double read(registers::Point point) const override {
    return values_.at(static_cast<std::size_t>(point));
  }
  [[nodiscard]] std::string text(registers::TextPoint point) const override {
    return std::string(to_word(point));
  }
  [[nodiscard]] Result<Done, modbus::Refusal> may_write(registers::Point, double) const override {
    return Done{};
  }
  void write(registers::Point point, double value) override { (*this)[point] = value; }
  void asked(const Asked&) override {}
  void saturated(const registers::Row&, double) const override {}

 private:
  std::array<double, registers::kPointCount> values_{};
};

/// What the import of a CSV text gives.
inline io::ImportedTable imported(const std::string& csv_text, const io::TableMapping& mapping = {}) {
  auto csv = io::parse_csv("t.csv", csv_text, mapping.delimiter, mapping.skip_rows);
  if (!csv) FAIL(to_text(csv.error()));
  auto table = io::import_table(*csv, mapping, "T");
  if (!table) FAIL(to_text(table.error()));
  return std::move(table).value();
}

/// Rows that were left out, or remarks: "row:column: text".
inline std::vector<std::string> lines(const std::vector<io::ImportedTable::Remark>& remarks) {
  std::vector<std::string> found;
  for (const auto& remark : remarks)
    found.push_back(std::to_string(remark.place.line) + ":" + std::to_string(remark.place.column) + ": " +
                    remark.text);
  return found;
}

/// The table in use.
inline std::shared_ptr<const registers::RegisterTable> in_use(const io::ImportedTable& table) {
  auto made = registers::make_register_table(table.parts);
  if (!made) FAIL(to_text(made.error().front()));
  return std::move(made).value();
}

/// Everything of a row but where it stood in its file.
inline bool same_row(const registers::Row& a, const registers::Row& b) {
  const auto key = [](const registers::Row& row) {
    return std::tie(row.table, row.address, row.point, row.text, row.fixed, row.fixed_text, row.layout.type,
                    row.layout.scale, row.layout.word_order, row.layout.byte_order, row.layout.coding,
                    row.layout.text_registers, row.layout.mask, row.layout.broken, row.bit_position, row.flag,
                    row.values, row.flags, row.access, row.write_mask, row.range, row.out_of_range, row.kept,
                    row.split_refused);
  };
  return key(a) == key(b);
}

}  // namespace emberline::test
