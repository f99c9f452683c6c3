// What stands in a row: the words of text points, and names for messages.
#include <algorithm>
#include <array>

#include "sim/registers/register_table.hpp"

namespace emberline::registers {
namespace {

constexpr std::array kTextPoints{
    TextPoint::vendor_name,  TextPoint::product_code, TextPoint::revision,         TextPoint::vendor_url,
    TextPoint::product_name, TextPoint::model_name,   TextPoint::application_name,
};

}  // namespace

std::string_view to_word(TextPoint point) {
  switch (point) {
    case TextPoint::vendor_name:
      return "vendor_name";
    case TextPoint::product_code:
      return "product_code";
    case TextPoint::revision:
      return "revision";
    case TextPoint::vendor_url:
      return "vendor_url";
    case TextPoint::product_name:
      return "product_name";
    case TextPoint::model_name:
      return "model_name";
    case TextPoint::application_name:
      return "application_name";
  }
  return "";
}

std::span<const TextPoint> all_text_points() { return kTextPoints; }

std::optional<TextPoint> find_text_point(std::string_view word) {
  const auto* const found = std::find_if(kTextPoints.begin(), kTextPoints.end(),
                                         [word](TextPoint point) { return to_word(point) == word; });
  return found == kTextPoints.end() ? std::nullopt : std::optional(*found);
}

bool carries_point(const Row& row) { return row.layout.type != Type::text && !row.fixed; }

std::string_view name_of(const Row& row) {
  if (carries_point(row)) return point_info(row.point).name;
  return row.text ? to_word(*row.text) : "fixed";
}

}  // namespace emberline::registers
