#include "sim/io/report/json_find.hpp"

#include <boost/json/parse.hpp>

namespace emberline::io {

boost::json::value parse_json(std::string_view text) {
  boost::system::error_code error;
  auto value = boost::json::parse(boost::json::string_view(text.data(), text.size()), error);
  return error ? boost::json::value(nullptr) : value;
}

const boost::json::value* find_member(const boost::json::value* value, std::string_view key) {
  const auto* object = value != nullptr ? value->if_object() : nullptr;
  return object != nullptr ? object->if_contains(key) : nullptr;
}

std::optional<std::string_view> find_text(const boost::json::value* value) {
  const auto* text = value != nullptr ? value->if_string() : nullptr;
  if (text == nullptr) return std::nullopt;
  return std::string_view(text->data(), text->size());
}

}  // namespace emberline::io
