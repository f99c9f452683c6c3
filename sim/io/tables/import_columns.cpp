#include "sim/io/tables/import_columns.hpp"

#include <algorithm>
#include <utility>

#include "sim/base/listed.hpp"
#include "sim/io/tables/import_cells.hpp"
#include "sim/io/tables/import_headers.hpp"

namespace emberline::io {
namespace {

struct UsualHeaders {
  TableColumn column;
  std::string_view words;  ///< as loose() makes them, the likeliest first
};

/// In the order in which they choose: a column is taken once. Addresses choose before them.
constexpr UsualHeaders kUsual[] = {
    {TableColumn::name,
     " name parameter parametername registername signal signalname variable variablename label title tag "
     "quantity designation description meaning "},
    {TableColumn::point, " point "},
    {TableColumn::table,
     " table modbustable registertype objecttype registertable memoryarea area functioncode functioncodes "
     "function fc space "},
    {TableColumn::type, " type datatype dataformat format numberformat encoding representation "},
    {TableColumn::registers,
     " registers registercount numberofregisters noofregisters length len size words count "
     "quantityofregisters "},
    {TableColumn::scale,
     " scale scaling scalefactor scalingfactor factor multiplier resolution gain lsb divisor divider "
     "decimals decimalplaces decimal "},
    {TableColumn::unit, " unit units uom engineeringunit engineeringunits engunit unitofmeasure "},
    {TableColumn::access, " access rw accessmode accessright accessrights permission permissions readwrite "},
    {TableColumn::range, " range validrange valuerange limits allowedrange "},
    {TableColumn::lowest, " lowest min minimum minvalue lowerlimit low from "},
    {TableColumn::highest, " highest max maximum maxvalue upperlimit high to "},
    {TableColumn::word_order, " wordorder endianness endian wordswap "},
    {TableColumn::byte_order, " byteorder byteswap "},
    {TableColumn::coding, " coding "},
    {TableColumn::bit, " bit bitno bitnumber bitposition bits "},
    {TableColumn::mask, " mask bitmask "},
    {TableColumn::write_mask, " writemask "},
    {TableColumn::values, " values enumeration enum options states valuelist allowedvalues codes "},
    {TableColumn::flags, " flags bitlist bitmeanings "},
    {TableColumn::flag, " flag "},
    {TableColumn::out_of_range, " outofrange "},
    {TableColumn::kept, " kept nonvolatile nv persistent stored retained "},
    {TableColumn::split, " split "},
    {TableColumn::broken, " broken novalue invalid invalidvalue "},
    {TableColumn::fixed, " fixed constant "},
    {TableColumn::meaning, " meaning remark remarks comment comments note notes description "},
};

constexpr std::string_view kOffsets =
    " offset valueoffset scaleoffset offsetvalue scalingoffset bias addend adder ";

constexpr std::size_t kMostNamed = 30;  ///< columns that a complaint lists

/// Where `header` stands in the row, loosely; nothing if nowhere.
std::optional<std::size_t> find_header(const std::vector<std::string>& row, const std::string& header) {
  for (std::size_t i = 0; i < row.size(); ++i) {
    const auto text = loose(row[i]);
    if (text.empty() ? trimmed(row[i]) == header : text == loose(header)) return i;
  }
  return std::nullopt;
}

std::vector<std::string> named(const std::vector<std::string>& row) {
  std::vector<std::string> names;
  for (const auto& cell : row)
    if (auto name = trimmed(cell); !name.empty() && names.size() < kMostNamed)
      names.push_back("'" + name + "'");
  return names;
}

/// True of columns whose header may say of which numbers their cells are: "Mask (hex)".
bool has_numbers_of_its_own(TableColumn column) {
  return column == TableColumn::address || column == TableColumn::mask || column == TableColumn::write_mask;
}

/// The first of the usual words that stands in the header, in a column nobody has yet.
std::optional<std::size_t> find_usual(const std::vector<std::string>& row, const UsualHeaders& usual,
                                      const std::vector<bool>& taken) {
  std::optional<std::size_t> best;
  auto best_at = std::string_view::npos;
  for (std::size_t i = 0; i < row.size(); ++i) {
    const auto word = has_numbers_of_its_own(usual.column) ? header_words(row[i]).text() : loose(row[i]);
    if (taken[i] || word.empty()) continue;
    const auto at = usual.words.find(" " + word + " ");
    if (at < best_at) {
      best = i;
      best_at = at;
    }
  }
  return best;
}

ScaleHabit habit_of(const std::string& header) {
  const auto word = loose(header);
  if (word == "divisor" || word == "divider") return ScaleHabit::divisor;
  if (word.starts_with("decimal")) return ScaleHabit::decimals;
  return ScaleHabit::factor;
}

bool is_one_of(const std::string& header, std::string_view words) {
  const auto word = loose(header);
  return !word.empty() && words.find(" " + word + " ") != std::string_view::npos;
}

std::string_view words_of(TableColumn column) {
  return std::find_if(std::begin(kUsual), std::end(kUsual), [&](const auto& u) { return u.column == column; })
      ->words;
}

/// Columns beside the scale's that say a scale too, or an offset.
void find_unused_scales(const std::vector<std::string>& header, const TableMapping& mapping,
                        const std::vector<bool>& taken, ColumnPlaces& places) {
  const bool stated = mapping.columns.contains(TableColumn::scale);
  for (std::size_t i = 0; i < header.size(); ++i) {
    if (taken[i]) continue;
    const bool offset = is_one_of(header[i], kOffsets);
    if (offset || (!stated && is_one_of(header[i], words_of(TableColumn::scale))))
      places.unused_scales.push_back({i, trimmed(header[i]), habit_of(header[i]), offset});
  }
}

/// Which numbers are hexadecimal by their header; of addresses the mapping says it first.
void find_numbers(const std::vector<std::string>& header, const TableMapping& mapping, ColumnPlaces& places) {
  for (std::size_t i = 0; i < kTableColumns; ++i)
    if (places.at[i] && has_numbers_of_its_own(static_cast<TableColumn>(i)))
      places.hexadecimal[i] = header_words(header[*places.at[i]]).hexadecimal;
  places.addresses = mapping.addresses;
  if (mapping.addresses == AddressHabit::as_written && places.is_hexadecimal(TableColumn::address))
    places.addresses = AddressHabit::hexadecimal;
}

/// A complaint about a header that is read and stands there twice.
std::optional<Diagnostic> doubled_header(const CsvTable& csv, int header_row, const ColumnPlaces& places) {
  const auto& header = csv.rows[static_cast<std::size_t>(header_row) - 1];
  std::optional<Diagnostic> found;
  for (const auto& place : places.at) {
    if (!place || loose(header[*place]).empty()) continue;
    for (std::size_t i = 0; i < header.size(); ++i) {
      if (i == *place || loose(header[i]) != loose(header[*place])) continue;
      const int column = static_cast<int>(std::max(i, *place)) + 1;
      if (found && found->place.column <= column) continue;
      found = Diagnostic{{csv.file, header_row, column},
                         "the header '" + trimmed(header[i]) + "' stands in column " +
                             std::to_string(std::min(i, *place) + 1) +
                             " already, expected each that is read once"};
    }
  }
  return found;
}

}  // namespace

std::string ColumnPlaces::cell(const std::vector<std::string>& row, TableColumn column) const {
  const auto& index = at.at(static_cast<std::size_t>(column));
  return index && *index < row.size() ? trimmed(row[*index]) : std::string();
}

bool ColumnPlaces::is_hexadecimal(TableColumn column) const {
  return hexadecimal.at(static_cast<std::size_t>(column));
}

int ColumnPlaces::number(TableColumn column) const {
  const auto& index = at.at(static_cast<std::size_t>(column));
  return index ? static_cast<int>(*index) + 1 : 0;
}

Result<ColumnPlaces, Diagnostic> find_columns(const CsvTable& csv, const TableMapping& mapping) {
  const auto header_at = static_cast<std::size_t>(mapping.skip_rows);
  const int header_row = mapping.skip_rows + 1;
  if (csv.rows.size() <= header_at || named(csv.rows[header_at]).empty())
    return Failure{
        Diagnostic{{csv.file, header_row, 1},
                   "no header here, expected the row that names the columns (skip_rows in the mapping says "
                   "how many rows are above it)"}};
  const auto& header = csv.rows[header_at];
  ColumnPlaces places;
  std::vector<bool> taken(header.size(), false);
  for (const auto& [column, stated] : mapping.columns) {
    const auto found = find_header(header, stated.text);
    if (!found)
      return Failure{Diagnostic{stated.place, "columns: no column of " + csv.file + " is called '" +
                                                  stated.text + "'; row " + std::to_string(header_row) +
                                                  " has: " + listed(named(header))}};
    places.at.at(static_cast<std::size_t>(column)) = *found;
    if (taken[*found])
      return Failure{
          Diagnostic{stated.place, "columns: '" + stated.text + "' is given two meanings, expected one"}};
    taken[*found] = true;
  }
  auto& address = places.at.at(static_cast<std::size_t>(TableColumn::address));
  if (!address) {
    const auto found = find_address_column(header, mapping, taken);
    if (!found) return Failure{Diagnostic{{csv.file, header_row, 1}, found.error()}};
    address = *found;
    if (address) taken[*address] = true;
  }
  for (const auto& usual : kUsual) {
    auto& place = places.at.at(static_cast<std::size_t>(usual.column));
    if (place) continue;
    place = find_usual(header, usual, taken);
    if (place) taken[*place] = true;
  }
  if (!address)
    return Failure{
        Diagnostic{{csv.file, header_row, 1},
                   "no column of addresses is found here, expected one called 'address', or the mapping to "
                   "name it (columns: { address: ... }); there: " +
                       listed(named(header))}};
  if (auto doubled = doubled_header(csv, header_row, places)) return Failure{std::move(*doubled)};
  find_unused_scales(header, mapping, taken, places);
  find_numbers(header, mapping, places);
  const auto scale = places.at.at(static_cast<std::size_t>(TableColumn::scale));
  if (scale) places.scale_header = trimmed(header[*scale]);
  places.scale = mapping.scale.value_or(scale ? habit_of(header[*scale]) : ScaleHabit::factor);
  return places;
}

}  // namespace emberline::io
