// Text to the loader of register tables. What is loaded is read and written from end to end.
#include "sim/registers/register_table.hpp"
#include "tests/fuzz/yaml_file.hpp"

using namespace emberline;
using fuzz::must;

namespace {

/// Points that hold what is written to them.
class Points final : public registers::PointAccess {
 public:
  [[nodiscard]] double read(registers::Point point) const override { return values_.at(index(point)); }
  [[nodiscard]] std::string text(registers::TextPoint point) const override {
    return std::string(to_word(point));
  }
  [[nodiscard]] Result<Done, modbus::Refusal> may_write(registers::Point, double) const override {
    return Done{};
  }
  void write(registers::Point point, double value) override { values_.at(index(point)) = value; }
  void asked(const Asked&) override {}
  void saturated(const registers::Row&, double) const override {}

 private:
  static std::size_t index(registers::Point point) { return static_cast<std::size_t>(point); }
  std::array<double, registers::kPointCount> values_{};
};

/// What a row without a point reads is known beforehand.
void judge(const registers::Row& row, const std::vector<std::uint16_t>& words) {
  if (row.layout.type == registers::Type::text) {
    const auto text = row.text ? std::string(to_word(*row.text)) : row.fixed_text;
    const auto size = 2 * static_cast<std::size_t>(row.layout.text_registers);
    must(words == registers::encode_text(text.substr(0, size), row.layout), "text is cut, and nothing else");
  } else if (row.fixed) {
    must(!encode_row(row, *row.fixed).saturated, "a fixed number fits its registers");
    must(shares_register(row) || decode_row(row, words) == *row.fixed ||
             row.layout.type == registers::Type::f32,
         "a fixed number comes back");
  } else {
    (void)decode_row(row, words);
  }
}

void exercise(const registers::RegisterTable& table) {
  Points points;
  for (const auto& row : table.rows()) {
    const auto words = static_cast<std::uint16_t>(registers::register_count(row.layout));
    if (modbus::carries_bits(row.table)) {
      const auto bits = table.read_bits(row.table, {row.address, 1}, points);
      must(bits || row.access == registers::Access::write_only, "a mapped bit can be read");
      if (row.table == modbus::Table::coils) (void)table.write_bits(row.address, {true}, points);
      continue;
    }
    const auto read = table.read_registers(row.table, {row.address, words}, points);
    must(!read || read->size() == words, "a read gives as many registers as were asked for");
    const bool shared = shares_register(row);
    must(read || row.access == registers::Access::write_only || shared, "a mapped register can be read");
    if (read) judge(row, *read);
    if (row.table != modbus::Table::holding_registers) continue;
    const auto written = table.write_registers(row.address, std::vector<std::uint16_t>(words, 1), points);
    must(!written || row.access != registers::Access::read_only || shared,
         "a read-only register cannot be written");
  }
}

}  // namespace

int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  static const fuzz::Workspace workspace("config/registers/fuzzed.yaml");
  const auto table =
      fuzz::load_input(workspace, io::FileKind::register_table, io::load_register_table, data, size);
  if (table) exercise(**table);
  return 0;
}
