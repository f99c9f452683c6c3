#include "sim/io/report/json_cursor.hpp"

#include <charconv>

#include "sim/base/plain_text.hpp"
#include "sim/io/report/json_text.hpp"

namespace emberline::io {
namespace {

constexpr std::size_t kLongestKeySaid = 60;
constexpr double kLongest_s = 1000.0 * 86400.0;  // of what our files can say

}  // namespace

void JsonCursor::complain(std::string_view expected) const {
  if (complaint_->empty()) *complaint_ = path_ + ": expected " + std::string(expected);
}

JsonCursor JsonCursor::operator[](std::string_view key) const {
  const auto path = path_.empty() ? std::string(key) : path_ + "." + std::string(key);
  if (value_ == nullptr) return {nullptr, path, *complaint_};
  if (!value_->is_object()) {
    complain("an object");
    return {nullptr, path, *complaint_};
  }
  const auto* found = value_->get_object().if_contains(key);
  JsonCursor member(found, path, *complaint_);
  if (found == nullptr && complaint_->empty()) *complaint_ = path + " is missing";
  return member;
}

bool JsonCursor::has(std::string_view key) const {
  return value_ != nullptr && value_->is_object() && value_->get_object().contains(key);
}

std::vector<JsonCursor> JsonCursor::items() const {
  std::vector<JsonCursor> found;
  if (value_ == nullptr) return found;
  if (!value_->is_array()) {
    complain("a list");
    return found;
  }
  for (const auto& item : value_->get_array())
    found.emplace_back(&item, path_ + "[" + std::to_string(found.size()) + "]", *complaint_);
  return found;
}

std::vector<std::pair<std::string, JsonCursor>> JsonCursor::members() const {
  std::vector<std::pair<std::string, JsonCursor>> found;
  if (value_ == nullptr) return found;
  if (!value_->is_object()) {
    complain("an object");
    return found;
  }
  for (const auto& member : value_->get_object()) {
    const std::string key(member.key());
    found.emplace_back(
        key, JsonCursor(&member.value(), path_ + "." + one_line(key, kLongestKeySaid), *complaint_));
  }
  return found;
}

std::string JsonCursor::text() const { return one_line(lines()); }

std::string JsonCursor::lines() const {
  if (value_ != nullptr && value_->is_string()) return plain_lines(std::string(value_->get_string()));
  if (value_ != nullptr) complain("a text");
  return {};
}

std::string JsonCursor::file_stem() const {
  auto stem = text();
  const bool as_it_is = value_ == nullptr || !value_->is_string() || stem == value_->get_string();
  if (stem.empty() || stem.find('/') != std::string::npos || !as_it_is)
    complain("the name of a file, without folder and ending");
  return stem;
}

std::vector<std::string> JsonCursor::texts() const {
  std::vector<std::string> found;
  for (const auto& item : items()) found.push_back(item.text());
  return found;
}

bool JsonCursor::flag() const {
  if (value_ != nullptr && value_->is_bool()) return value_->get_bool();
  if (value_ != nullptr) complain("true or false");
  return false;
}

bool JsonCursor::is_null() const { return value_ == nullptr || value_->is_null(); }

double JsonCursor::number() const {
  // The library is off by an ulp or two where there are many digits or a large exponent, and what is written
  // again would be another text each time.
  double rounded = as_read();
  const auto text = json_number(rounded);
  std::from_chars(text.data(), text.data() + text.size(), rounded);
  return rounded;
}

double JsonCursor::as_read() const {
  if (value_ == nullptr) return 0.0;
  if (value_->is_double()) return value_->get_double();
  if (value_->is_int64()) return static_cast<double>(value_->get_int64());
  if (value_->is_uint64()) return static_cast<double>(value_->get_uint64());
  complain("a number");
  return 0.0;
}

double JsonCursor::number_or_nan() const {
  return is_null() ? std::numeric_limits<double>::quiet_NaN() : number();
}

std::uint64_t JsonCursor::whole_up_to(std::uint64_t most) const {
  if (value_ == nullptr) return 0;
  std::optional<std::uint64_t> found;
  if (value_->is_uint64()) found = value_->get_uint64();
  if (value_->is_int64() && value_->get_int64() >= 0) found = static_cast<std::uint64_t>(value_->get_int64());
  if (found && *found <= most) return *found;
  complain("a whole number from 0 to " + std::to_string(most));
  return 0;
}

Duration JsonCursor::duration() const {
  const double seconds = as_read();
  if (seconds >= 0.0 && seconds <= kLongest_s) return from_seconds(seconds);
  complain("a time in seconds from the start of the run");
  return {};
}

}  // namespace emberline::io
