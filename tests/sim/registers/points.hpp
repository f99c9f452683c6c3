#pragma once

#include <array>
#include <cstdio>
#include <map>
#include <memory>
#include <stdexcept>
#include <string>
#include <vector>

#include "sim/base/quantity.hpp"
#include "sim/registers/register_table.hpp"

namespace emberline::test {

/// A unit that is nothing but its points, and remembers what it was told.
class Points : public registers::PointAccess {
 public:
  using Point = registers::Point;
  double& operator[](Point point) { return values_[static_cast<std::size_t>(point)]; }

  double read(Point point) const override {
    ++reads;
    return values_[static_cast<std::size_t>(point)];
  }
  [[nodiscard]] std::string text(registers::TextPoint point) const override {
    return std::string(registers::to_word(point));
  }
  Result<Done, modbus::Refusal> may_write(Point point, double) const override {
    const auto refused = refuses.find(point);
    if (refused != refuses.end()) return Failure{refused->second};
    return Done{};
  }
  void write(Point point, double value) override {
    (*this)[point] = value;
    log.push_back("wrote " + name(point) + " " + format_number(value));
  }
  void asked(const Asked& what) override {
    const char* const fates[] = {"accepted", "clamped", "ignored", "refused"};
    log.push_back(std::string(fates[static_cast<std::size_t>(what.fate)]) + " " + name(what.point) + " " +
                  format_number(what.asked));
  }
  void saturated(const registers::Row& row, double value) const override {
    saturations.push_back(name(row.point) + " " + format_number(value));
  }

  std::map<Point, modbus::Refusal> refuses;
  std::vector<std::string> log;
  mutable std::vector<std::string> saturations;
  mutable int reads = 0;

 private:
  static std::string name(Point point) { return std::string(registers::point_info(point).name); }
  std::array<double, registers::kPointCount> values_{};
};

using Table = std::shared_ptr<const registers::RegisterTable>;

/// A row of the holding registers; the rest is set by the test.
inline registers::Row row_at(std::uint16_t address, registers::Point point, registers::Type type,
                             double scale = 1.0) {
  registers::Row row;
  row.address = address;
  row.point = point;
  row.layout.type = type;
  row.layout.scale = scale;
  row.place = {"table.yaml", address + 1, 5};
  return row;
}

inline registers::Row writable(registers::Row row) {
  row.access = registers::Access::read_write;
  return row;
}

inline registers::Row with_range(registers::Row row, double low, double high,
                                 registers::OutOfRange beyond = registers::OutOfRange::exception_03) {
  row.range = {low, high};
  row.out_of_range = beyond;
  return row;
}

/// The table, or a failed test that says what is wrong with it.
inline Table make(registers::TableParts parts) {
  auto made = registers::make_register_table(std::move(parts));
  if (made) return *made;
  std::string problems;
  for (const auto& problem : made.error()) problems += to_text(problem) + "\n";
  throw std::runtime_error(problems);
}
inline Table make(std::vector<registers::Row> rows) {
  registers::TableParts parts;
  parts.rows = std::move(rows);
  return make(std::move(parts));
}

/// "03 E8 00 00"-like registers in hexadecimal, or the refusal as "exception 02".
inline std::string text_of(const Result<std::vector<std::uint16_t>, modbus::Refusal>& words) {
  if (!words) return "exception 0" + std::to_string(static_cast<int>(words.error()));
  std::string text;
  for (const auto word : *words) {
    char digits[8];
    (void)std::snprintf(digits, sizeof digits, text.empty() ? "%04X" : " %04X", static_cast<unsigned>(word));
    text += digits;
  }
  return text;
}
inline std::string text_of(const Result<std::vector<bool>, modbus::Refusal>& bits) {
  if (!bits) return "exception 0" + std::to_string(static_cast<int>(bits.error()));
  std::string text;
  for (const bool bit : *bits) text += bit ? '1' : '0';
  return text;
}
inline std::string text_of(const Result<Done, modbus::Refusal>& done) {
  return done ? "done" : "exception 0" + std::to_string(static_cast<int>(done.error()));
}

inline std::string read_holding(const Table& table, std::uint16_t first, std::uint16_t count,
                                const Points& points) {
  return text_of(table->read_registers(modbus::Table::holding_registers, {first, count}, points));
}
inline std::string read_input(const Table& table, std::uint16_t first, std::uint16_t count,
                              const Points& points) {
  return text_of(table->read_registers(modbus::Table::input_registers, {first, count}, points));
}

}  // namespace emberline::test
